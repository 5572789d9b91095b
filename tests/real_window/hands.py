"""Hands and eyes for a real window: controls are found by the names that screen readers read, and used by mouse and keys alone.

The names come over the desktop's accessibility bus (AT-SPI 2), so that what is driven here is also what a screen reader is told.
Needs: python3-dbus, at-spi2-core, xdotool, ImageMagick; a session bus and a display are expected in the environment.
"""

import os
import re
import subprocess
import sys
import time

import dbus

ACCESSIBLE = "org.a11y.atspi.Accessible"
COMPONENT = "org.a11y.atspi.Component"
PROPERTIES = "org.freedesktop.DBus.Properties"
IN_WINDOW = dbus.UInt32(1)
ENABLED = 1 << 8
FOCUSED = 1 << 12
LABEL = 29
# How many times longer than usual everything may take: for machines that are busy or slow.
PATIENCE = float(os.environ.get("PATIENCE", "1"))


class Failed(Exception):
    """What was expected did not happen."""


def accessibility_bus():
    """The accessibility bus, told that somebody listens."""
    session = dbus.SessionBus()
    bus = session.get_object("org.a11y.Bus", "/org/a11y/bus")
    status = dbus.Interface(bus, PROPERTIES)
    status.Set("org.a11y.Status", "IsEnabled", dbus.Boolean(True))
    status.Set("org.a11y.Status", "ScreenReaderEnabled", dbus.Boolean(True))
    address = dbus.Interface(bus, "org.a11y.Bus").GetAddress()
    return dbus.bus.BusConnection(str(address))


class Control:
    """One control: its name, its role's number, where it lies in the window."""

    def __init__(self, window, place, name, role):
        self.window, self.place, self.name, self.role = window, place, name, role

    def box(self):
        """Left, top, width, height in window pixels."""
        component = dbus.Interface(self.window.object(self.place), COMPONENT)
        return tuple(int(side) for side in component.GetExtents(IN_WINDOW))

    def middle(self):
        left, top, width, height = self.box()
        return left + width // 2, top + height // 2

    def states(self):
        low, _high = dbus.Interface(self.window.object(self.place), ACCESSIBLE).GetState()
        return int(low)

    def enabled(self):
        return bool(self.states() & ENABLED)

    def focused(self):
        return bool(self.states() & FOCUSED)

    def __repr__(self):
        return f"{self.name!r} (role {self.role})"


class Window:
    """A running program and its window."""

    def __init__(self, arguments, out, title="platebench", size=None):
        self.out, self.bus = out, accessibility_bus()
        self.log = open(os.path.join(out, "window.log"), "a", encoding="utf-8")
        self.process = subprocess.Popen(arguments, stdout=self.log, stderr=self.log)
        self.number = self._window(title)
        run("xdotool", "windowfocus", "--sync", self.number)
        if size:
            run("xdotool", "windowsize", "--sync", self.number, *map(str, size))
        self.application = self._application()

    # Finding

    def _window(self, title):
        for _try in range(int(240 * PATIENCE)):
            time.sleep(0.25)
            if self.process.poll() is not None:
                raise Failed(f"the window ended by itself with {self.process.returncode}")
            found = subprocess.run(
                ["xdotool", "search", "--onlyvisible", "--name", title], capture_output=True, text=True, check=False
            ).stdout.split()
            if found:
                return found[-1]
        raise Failed("no window came up")

    def _application(self):
        """The bus name of the program on the accessibility bus."""
        registry = ("org.a11y.atspi.Registry", "/org/a11y/atspi/accessible/root")
        daemon = dbus.Interface(
            self.bus.get_object("org.freedesktop.DBus", "/org/freedesktop/DBus"), "org.freedesktop.DBus"
        )
        for _try in range(int(120 * PATIENCE)):
            for place in self.children(registry):
                if int(daemon.GetConnectionUnixProcessID(place[0])) == self.process.pid:
                    return place
            time.sleep(0.25)
        raise Failed("the program never came to the accessibility bus")

    def object(self, place):
        return self.bus.get_object(place[0], place[1], introspect=False)

    def children(self, place):
        try:
            found = dbus.Interface(self.object(place), ACCESSIBLE).GetChildren()
        except dbus.DBusException:
            # It went away between being named and being asked.
            return []
        return [(str(name), str(path)) for name, path in found]

    def controls(self):
        """Every control there is, in reading order."""
        found, waiting = [], self.children(self.application)
        while waiting:
            place = waiting.pop(0)
            try:
                thing = self.object(place)
                name = str(thing.Get(ACCESSIBLE, "Name", dbus_interface=PROPERTIES))
                role = int(dbus.Interface(thing, ACCESSIBLE).GetRole())
            except dbus.DBusException:
                continue
            if name:
                found.append(Control(self, place, name, role))
            waiting[:0] = self.children(place)
        return found

    def find(self, name, seconds=20.0, last=False):
        """The control of this name, or whose name matches a compiled pattern; waits until it is there."""
        end = time.monotonic() + seconds * PATIENCE
        while True:
            fits = name.search if isinstance(name, re.Pattern) else lambda text: text == name
            found = [control for control in self.controls() if fits(control.name)]
            # A field is called like the label before it.
            found = [control for control in found if control.role != LABEL] or found
            if found:
                return found[-1 if last else 0]
            if time.monotonic() > end:
                names = "\n  ".join(control.name for control in self.controls())
                self.shot("failed")
                raise Failed(f"nothing is called {name!r}; there are:\n  {names}")
            self.alive()
            time.sleep(0.2)

    def has(self, name):
        return any(control.name == name for control in self.controls())

    def alive(self):
        if self.process.poll() is not None:
            raise Failed(f"the program ended with {self.process.returncode}")

    # Using

    def move(self, at):
        run("xdotool", "mousemove", "--window", self.number, str(round(at[0])), str(round(at[1])))

    def click_at(self, at):
        self.move(at)
        time.sleep(0.08)
        run("xdotool", "click", "1")
        time.sleep(0.12)

    def drag(self, points, hold=False):
        """Presses at the first point, moves over the others, lets go at the last."""
        self.move(points[0])
        time.sleep(0.08)
        run("xdotool", "mousedown", "1")
        for start, stop in zip(points, points[1:]):
            for step in range(1, 7):
                share = step / 6
                self.move([a + (b - a) * share for a, b in zip(start, stop)])
                time.sleep(0.03)
        time.sleep(0.1)
        if not hold:
            run("xdotool", "mouseup", "1")
            time.sleep(0.15)

    def wheel(self, at, lines):
        """Turns the wheel: positive is away from the reader, up."""
        self.move(at)
        run("xdotool", "click", "--repeat", str(abs(lines)), "--delay", "25", "4" if lines > 0 else "5")
        time.sleep(0.35)

    def click(self, name, seconds=20.0, last=False):
        """Clicks a control, once it is there and enabled."""
        control = self.find(name, seconds, last)
        end = time.monotonic() + seconds * PATIENCE
        while not control.enabled():
            if time.monotonic() > end:
                raise Failed(f"{control!r} stays disabled")
            time.sleep(0.2)
            control = self.find(name, seconds, last)
        self.click_at(control.middle())
        return control

    def focus(self, name):
        """Gives a control the keyboard, as a screen reader does."""
        control = self.find(name)
        dbus.Interface(self.object(control.place), COMPONENT).GrabFocus()
        end = time.monotonic() + 20 * PATIENCE
        while not self.find(name).focused():
            if time.monotonic() > end:
                raise Failed(f"{control!r} never took the keyboard")
            time.sleep(0.1)

    def click_on_card(self, name, last=False):
        """Clicks a control of the step card, which is scrolled to it."""
        self.bring(name, last)
        return self.click(name, last=last)

    def bring(self, name, last=False):
        """Scrolls the step card until a control can be seen."""
        left, top, width, height = self.find("Picture").box()
        # The card reaches up beside the row of ways to look, and down beside the read-out.
        upper, lower = top - 20, top + height + 28
        at = (left // 2, (upper + lower) // 2)
        for _turn in range(40):
            _left, y, _width, tall = self.find(name, last=last).box()
            if upper <= y and y + tall <= lower:
                return
            self.wheel(at, 2 if y < upper else -2)
        self.shot("failed")
        raise Failed(f"{name!r} cannot be brought into view: it lies at {self.find(name, last=last).box()}, seen is {upper} to {lower}")

    def cell(self, row, column):
        """The build sheet's cell of a plate and a stage."""
        return self.find(re.compile(f"^{re.escape(row)}, {re.escape(column)}: "))

    def click_cell(self, row, column):
        self.click_at(self.cell(row, column).middle())

    def click_cell_named(self, start):
        self.click_at(self.find(re.compile(f"^{re.escape(start)}")).middle())

    def settle(self, quiet=1.2, seconds=60.0):
        """Waits until the window has shown the same for a while: tiles arrive one by one."""
        before, since, end = None, time.monotonic(), time.monotonic() + seconds * PATIENCE
        while time.monotonic() < end:
            now = subprocess.run(["import", "-window", "root", "rgb:-"], capture_output=True, check=True).stdout
            if now != before:
                before, since = now, time.monotonic()
            elif time.monotonic() - since > quiet * PATIENCE:
                return
            time.sleep(0.25)
        raise Failed("the window never came to rest")

    @staticmethod
    def rest(seconds):
        time.sleep(seconds)

    def keys(self, *names):
        for name in names:
            run("xdotool", "key", name)
            time.sleep(0.1)

    def type(self, name, text, enter=False):
        """Puts a text in the place of what stands in a field."""
        self.click(name)
        self._write(name, text)
        if enter:
            self.keys("Return")

    def type_on_card(self, name, text):
        """Types a number of the step card: such fields open by a click."""
        self.bring(name)
        self.click(name)
        self._write(name, text)
        self.keys("Return")

    def _write(self, name, text):
        """Writes into the field that was just clicked: a busy window takes its time to see the click."""
        end = time.monotonic() + 20 * PATIENCE
        while not self.find(name).focused():
            if time.monotonic() > end:
                raise Failed(f"{name!r} never took the keyboard")
            time.sleep(0.1)
        time.sleep(0.2)
        run("xdotool", "key", "ctrl+a")
        time.sleep(0.1)
        run("xdotool", "type", "--delay", "12", text)
        time.sleep(0.4)

    def wait_for(self, name, seconds):
        return self.find(name, seconds)

    def wait_while_working(self, done, seconds=1800):
        """Waits for the work under way to end by saying something that matches `done`."""
        said = self.find(re.compile(done), seconds)
        while self.has("Stop the work"):
            time.sleep(0.3)
        self.click("Dismiss")
        return said.name

    def processor_time(self):
        """Seconds of processor time that the program has used so far."""
        with open(f"/proc/{self.process.pid}/stat", encoding="utf-8") as file:
            fields = file.read().rsplit(")", 1)[1].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")

    # Ending

    def ends(self, seconds=30):
        try:
            code = self.process.wait(seconds * PATIENCE)
        except subprocess.TimeoutExpired:
            raise Failed("the window did not close") from None
        if code != 0:
            raise Failed(f"the program ended with {code}")

    def kill(self):
        """Ends the program as a power cut would."""
        self.process.kill()
        self.process.wait()
        run("xdotool", "mouseup", "1")

    def shot(self, name):
        run("import", "-window", "root", os.path.join(self.out, f"{name}.png"))


def over(window, size, at):
    """The place in the window over a pixel of a picture that is fitted whole."""
    left, top, width, height = window.find("Picture").box()
    scale = min(width / size[0], height / size[1])
    return (
        left + width / 2 + (at[0] - size[0] / 2) * scale,
        top + height / 2 + (at[1] - size[1] / 2) * scale,
    )


def run(*arguments):
    done = subprocess.run(list(arguments), capture_output=True, text=True, check=False)
    if done.returncode != 0:
        raise Failed(f"{' '.join(arguments)}: {done.stderr.strip()}")
    return done.stdout


def check(holds, said):
    if not holds:
        raise Failed(said)
    print(f"  {said}: yes", flush=True)


def stage(said):
    print(f"[{time.strftime('%H:%M:%S')}] {said}", flush=True)


def main(work):
    """Runs `work`; a failure is said and ends the script with 1."""
    try:
        work()
    except Failed as why:
        print(f"failed: {why}", file=sys.stderr)
        sys.exit(1)
