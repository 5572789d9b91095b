"""The hand work on the demo's barge in a real window: dust and two hairs taken off, the stand painted out, the seam gap closed by a
strake; then the barge is shot again and swapped in, and everything is carried over, with what wants a look named.

usage: hand.py PROGRAM PHOTOS OUT, through whole_job.sh

PHOTOS is the folder `photos` of the demo scene, whose project lies beside it; both are copied. Where dust, hairs and seam are, the
simulation's own record says. Pictures at one to one are left in OUT, to be looked at.
"""

import json
import math
import os
import re
import shutil
import sys

from hands import Window, check, main, over, stage

PROGRAM, PHOTOS, OUT = sys.argv[1:4]
DEMO = os.path.join(OUT, "demo")
PLATE = (2400, 1600)
TESTS = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
TRUTH = os.path.join(os.path.dirname(TESTS), "demo_scenes", "ice_shift", "truth", "barge", "truth.json")
# How far below the seam's middle, in pixels, the line lies that the strake keeps.
KEPT_PX = 46
# The courses of the two hairs, as they are seen pixel for pixel.
HAIRS = [
    [(1028, 548), (1043, 550), (1053, 566), (1054, 580), (1052, 596), (1051, 609), (1047, 622), (1044, 636)],
    [(1304, 1081), (1301, 1098), (1298, 1115), (1303, 1131), (1317, 1145), (1332, 1147), (1346, 1142), (1356, 1128), (1358, 1113)],
]
# Places to look at one to one.
VIEWS = {"hair_1": (1052, 567), "hair_2": (1315, 1142), "stand": (1105, 1150), "seam_left": (700, 866), "seam_right": (1200, 1102)}


def project_file():
    return next(os.path.join(DEMO, name) for name in os.listdir(DEMO) if name.endswith(".platebench"))


def barge():
    with open(project_file(), encoding="utf-8") as file:
        record = json.load(file)
    return next(plate for plate in record["project"]["plates"] if plate["name"] == "barge")


def step_of(kind):
    return next(step["kind"][kind] for step in barge()["steps"] if kind in step["kind"])


def truth():
    with open(TRUTH, encoding="utf-8") as file:
        return json.load(file)


def save(window):
    window.keys("ctrl+s")
    window.find("saved")


def says(window, column, state, said):
    """Waits until the barge's cell of a column is in a state."""
    window.find(re.compile(f"^barge, {column}: .*, {state}$"), 60)
    check(True, said)


def focus_picture(window):
    """Gives the picture the keyboard as a screen reader does: a click would count for the tool in hand. Shows all of it."""
    window.focus("Picture")
    window.keys("Home")
    window.rest(0.3)


def one_to_one(window, at):
    """Shows the picture pixel for pixel about a place, which stays under the pointer; gives where that is."""
    window.keys("Home")
    window.rest(0.2)
    place = over(window, PLATE, at)
    window.move(place)
    window.rest(0.1)
    window.keys("1")
    window.rest(0.3)
    return place


def look(window, prefix):
    """Leaves a picture at one to one of every place that matters."""
    focus_picture(window)
    for name, at in VIEWS.items():
        one_to_one(window, at)
        # The pointer is taken off what is looked at.
        left, top, width, height = window.find("Picture").box()
        window.move((left + width - 4, top + height - 4))
        window.settle()
        window.shot(f"{prefix}_{name}")
    window.keys("Home")


def begin():
    stage("the demo scene is opened, its barge fused")
    shutil.copytree(PHOTOS, os.path.join(DEMO, "photos"))
    beside = os.path.dirname(PHOTOS)
    for name in os.listdir(beside):
        if name.endswith(".platebench"):
            shutil.copy(os.path.join(beside, name), DEMO)
    window = Window([PROGRAM, "open", project_file()], OUT, size=(1280, 800))
    window.find("Name of barge", 120)
    window.click_cell("barge", "Fuse")
    window.click_on_card("Fuse this plate")
    window.wait_while_working("^Measured and fused")
    window.settle()
    look(window, "01_fused")
    return window


def covered(patches, at, reach):
    """Whether a place that is filled reaches `at`."""
    for patch in patches:
        if patch.get("verdict") == "refused":
            continue
        shape = patch["shape"]
        points = shape["dab"]["at"] if "dab" in shape else None
        radius = shape["dab"]["radius_px"] if "dab" in shape else shape.get("line", {}).get("width_px", 0) / 2
        points = [points] if points else next(iter(shape.values()))["points"]
        if any(math.dist(point, at) <= radius + reach for point in points):
            return True
    return False


def spots(window):
    stage("dust and hairs are looked for, decided about, and what was missed is dabbed")
    window.click_cell("barge", "Spotting")
    window.click_on_card("Look for dust and hair")
    window.wait_while_working("^[0-9]+ places are in the spotting step")
    window.settle()
    window.shot("02_found")
    says(window, "Spotting", "needs a look", "finds that nobody decided about want a look")
    lint = truth()["lint"]
    save(window)
    # As somebody does who looks through them: what lies on a speck is accepted by a click in the picture, the others are refused.
    finds = step_of("spotting")["patches"]
    focus_picture(window)
    for one in lint:
        near = [find for find in finds if covered([find], one["at"], 2)]
        if near:
            shape = next(iter(near[0]["shape"].values()))
            at = shape.get("at") or shape["points"][len(shape["points"]) // 2]
            window.click_at(one_to_one(window, at))
    window.settle()
    window.shot("03_accepted")
    window.click_on_card("Refuse the others")
    window.settle()
    save(window)
    found = step_of("spotting")["patches"]
    accepted = sum(patch.get("verdict") == "accepted" for patch in found)
    check(all(patch.get("verdict") for patch in found), f"every find is decided about, {accepted} of {len(found)} accepted")
    missed = [one for one in lint if not covered(found, one["at"], 4)]
    print(f"  {len(lint) - len(missed)} of {len(lint)} specks accepted; the others are healed by hand", flush=True)
    window.type_on_card("Dab radius, number", "7")
    window.click_on_card("By dabs")
    focus_picture(window)
    for number, one in enumerate(one for one in missed if one["kind"] == "mote"):
        place = one_to_one(window, one["at"])
        window.settle(quiet=0.6)
        window.click_at(place)
        if number == 0:
            window.settle()
            window.shot("03_dabbed_one")
    window.keys("Escape")
    save(window)
    motes = [one for one in lint if one["kind"] == "mote"]
    filled = step_of("spotting")["patches"]
    left = [one["at"] for one in motes if not covered(filled, one["at"], 4)]
    check(not left, f"every one of {len(motes)} motes is filled ({left})")


def outline(window, points):
    focus_picture(window)
    for at in points:
        window.click_at(over(window, PLATE, at))
    window.keys("Return")


def stand(window):
    stage("the stand is painted out")
    window.click_on_card("Paint out inside an outline")
    window.settle()
    outline(window, [(1066, 1098), (1150, 1098), (1150, 1594), (1066, 1594)])
    window.settle(seconds=240)
    window.shot("05_painted_out")
    window.keys("Escape")
    window.bring("Shadow and reflection seen to")
    says(window, "Spotting", "needs a look", "the reminder of shadow and reflection wants a look")
    window.click_on_card("Shadow and reflection seen to")
    says(window, "Spotting", "done", "and goes once somebody looked")


def beside(seam, by):
    """The seam's line, so many pixels below it."""
    (x0, y0), (x1, y1) = seam[0], seam[-1]
    length = math.dist((x0, y0), (x1, y1))
    down = (-(y1 - y0) / length, (x1 - x0) / length)
    return [(x + down[0] * by, y + down[1] * by) for x, y in seam]


def strake(window):
    stage("the seam gap is closed by a strake")
    window.click_cell("barge", "Warp")
    window.click_on_card("Set out a strake")
    window.settle()
    seam, width = truth()["seam_gap_middle"], truth()["seam_gap_width_px"]
    lower = beside(seam, width / 2)
    for line in (beside(seam, KEPT_PX), lower):
        outline(window, line)
    window.click_on_card("Closes a gap")
    window.shot("07_strake_set_out")
    window.keys("Escape")
    # Pixel for pixel, the line is taken between two of its points and carried over the gap.
    middle = [(a + b) / 2 for a, b in zip(lower[1], lower[2])]
    focus_picture(window)
    place = one_to_one(window, middle)
    upper = beside(seam, -width / 2)
    by = [b - a for a, b in zip(lower[2], upper[2])]
    window.drag([place, (place[0] + by[0] / 2, place[1] + by[1] / 2), (place[0] + by[0], place[1] + by[1])])
    window.settle()
    window.shot("07_strake")
    save(window)
    warp = step_of("warp")
    kind = warp["kind"]["strake"]
    moved = [[b - a for a, b in zip(was, now)] for was, now in zip(kind["was"], kind["now"])]
    off = max(math.dist(one, by) for one in moved)
    check(kind["covers"] and off < 1.0, f"the line was carried over the gap, to {off:.2f} px")
    window.find(re.compile("^barge, Warp: 1 strake, "), 60)


def hairs(window):
    """Hairs are healed along their line, pixel for pixel."""
    stage("two hairs are healed along their lines")
    window.type_on_card("Dab radius, number", "3.5")
    window.click_on_card("Along a line")
    for number, course in enumerate(HAIRS):
        middle = course[len(course) // 2]
        focus_picture(window)
        place = one_to_one(window, middle)
        window.settle(quiet=0.6)
        for at in course:
            window.click_at([place[axis] + at[axis] - middle[axis] for axis in (0, 1)])
        window.keys("Return")
        window.settle()
        window.shot(f"04_hair_{number + 1}")
    window.click_on_card("Along a line")
    save(window)
    lines = [patch["shape"]["line"] for patch in step_of("spotting")["patches"] if "line" in patch["shape"] and "confidence" not in patch]
    check([len(line["points"]) for line in lines] == [len(course) for course in HAIRS], "both hairs lie under a line set by hand")


def swap(window):
    stage("the barge is shot again and swapped")
    before = barge()
    window.click("More for barge")
    window.click("Swap the source…")
    window.type("Folder or photos", os.path.join(DEMO, "photos", "barge_again"), enter=True)
    window.click("Swap now")
    said = window.wait_while_working("^barge has its new source")
    print(f"  {said}", flush=True)
    window.settle()
    window.shot("10_swapped")
    save(window)
    after = barge()
    check(len(after["variants"]) == 2 and after["current"] == after["variants"][1]["id"], "the second source is in use")
    check(after["steps"] == before["steps"], "every step was carried over as it was")
    names = [control.name for control in window.controls()]
    looks = [name for name in names if name.startswith("needs a look: ")]
    for name in looks:
        print(f"  {name}", flush=True)
    check(any("spotting" in name for name in looks), "the findings say that spots want a look")
    for column in ("Spotting", "Warp"):
        print(f"  {window.cell('barge', column).name}", flush=True)
    says(window, "Spotting", "needs a look", "so does the sheet")
    window.click_cell("barge", "Warp")
    window.settle()
    look(window, "11_swapped")


def hand():
    window = begin()
    spots(window)
    hairs(window)
    stand(window)
    look(window, "06_healed")
    strake(window)
    look(window, "08_warped")
    swap(window)
    window.keys("ctrl+q")
    window.ends()
    stage("the hand work was done in a real window")


main(hand)
