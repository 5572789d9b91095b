"""The whole job in a real window, by mouse and keys alone, as somebody does it who opens the program for the first time.

usage: whole_job.py PROGRAM PHOTOS OUT

PHOTOS is the folder `photos` of the demo scene; what is used of it is copied. From a folder of photos: new scene, groups accepted,
barge fused, its furnace pass laid over through a mask (an outline and strokes), tug and buoy placed before a made sky, saved, closed,
opened again, barge swapped, built. Then the record and the pixels are looked at: the finished file has the same pixels as one that
the command line builds from the saved project, and the furnace lights up what was painted and nothing else. At last the program
is killed in the middle of a stroke, and the next start gives the stroke back.
"""

import json
import os
import shutil
import subprocess
import sys

import pictures
from hands import Window, check, main, over, stage

PROGRAM, PHOTOS, OUT = sys.argv[1:4]
SHOOT = os.path.join(OUT, "shoot")
PROJECT = os.path.join(SHOOT, "whole_job.platebench")
BUILT = os.path.join(OUT, "built.tif")

# Places on the barge's photos, in pixels: round the furnace doors.
OUTLINE = [(830, 660), (1000, 640), (1240, 690), (1480, 600), (1640, 900), (1480, 1080), (1120, 1020), (840, 880)]
STROKES = [[(1180, 760), (1320, 720), (1450, 690)], [(900, 940), (980, 960), (1060, 1000)]]
# What was painted lies in here; strokes are 24 px wide to each side.
PAINTED = (830 - 30, 600 - 30, 1640 + 30, 1080 + 30)
PLATE = (2400, 1600)
CANVAS = (2400, 1600)


def copy_photos():
    """The photos of a shoot as a camera's card holds them: in one folder, all kinds side by side."""
    os.makedirs(SHOOT)
    wanted = {
        "barge": ["barge_unlit", "barge_furnace", "barge_silhouette"],
        "tug": ["tug_unlit", "tug_silhouette"],
        "buoy": ["buoy_unlit", "buoy_silhouette"],
    }
    for folder, starts in wanted.items():
        for name in sorted(os.listdir(os.path.join(PHOTOS, folder))):
            if any(name.startswith(start) for start in starts):
                shutil.copy(os.path.join(PHOTOS, folder, name), SHOOT)
    again = os.path.join(OUT, "again")
    os.makedirs(again)
    for name in sorted(os.listdir(os.path.join(PHOTOS, "barge_again"))):
        if "unlit" in name:
            shutil.copy(os.path.join(PHOTOS, "barge_again", name), again)
    return again


def start(*arguments):
    return Window([PROGRAM, *arguments], OUT, size=(1280, 800))


def saved():
    with open(PROJECT, encoding="utf-8") as file:
        return json.load(file)


def plate(record, name):
    return next(plate for plate in record["project"]["plates"] if plate["name"] == name)


def placement(record, name):
    return next(placed for placed in record["project"]["placements"] if placed["name"] == name)


def new_scene():
    stage("new scene from photos")
    window = start()
    window.find("Open the demo scene", 60)
    window.shot("01_start")
    window.type("Folder or photos", SHOOT, enter=True)
    window.shot("02_folder_given")
    window.click("Look at these photos")
    window.find("Stacks and passes", 60)
    window.shot("03_groups")
    window.type("Scene name", "whole job")
    window.click("Take these groups")
    window.find("Name of barge", 60)
    for cell in ["barge, Frames: 10, done", "tug, Frames: 2, done", "buoy, Frames: 3, done"]:
        check(window.has(cell), f"the sheet says {cell}")
    window.settle()
    window.shot("04_accepted")
    return window


def fuse(window):
    stage("the barge is measured and fused")
    window.click_cell("barge", "Fuse")
    window.click_on_card("Fuse this plate")
    window.find("Stop the work")
    window.shot("05_fusing")
    window.wait_while_working("^Measured and fused")
    check(window.cell("barge", "Fuse").name.endswith("done"), "the barge's Fuse cell says done")
    window.settle()
    window.shot("06_fused")


def lights(window):
    stage("the furnace pass is laid over through a painted mask")
    window.click_cell("barge", "Lights")
    window.click_on_card("Add a group from furnace")
    window.click_on_card("New mask for lights 1")
    window.click_on_card("Draw the mask of lights 1")
    window.click_on_card("Set out an outline")
    window.settle()
    for at in OUTLINE:
        window.click_at(over(window, PLATE, at))
    window.keys("Return")
    window.find("Show + outline 1")
    window.shot("07_outline")
    window.click_on_card("Draw strokes")
    for number, stroke in enumerate(STROKES):
        window.drag([over(window, PLATE, at) for at in stroke])
        window.find(f"Show + stroke {number + 2}")
    window.settle()
    window.shot("08_strokes")
    window.keys("Escape")


def cut_out(window):
    stage("barge, tug and buoy are cut out by their silhouettes")
    for name in ["barge", "tug", "buoy"]:
        window.click_cell(name, "Matte")
        window.click_on_card("Cut out by silhouette 'silhouette'")
        window.find("Remove the matte")
        # The backdrop falls off towards the corners.
        window.type_on_card("Clear above, number", "72")


def place(window):
    stage("tug and buoy are placed before a made sky")
    window.click("Scene")
    window.click("Add a made sky")
    window.find("Name of sky")
    window.shot("09_sky")
    window.click_cell("tug", "Placement")
    window.type_on_card("Size of tug, number", "35")
    window.settle()
    # Its middle lies in the middle of the scene: it is taken there and carried to the upper left.
    window.drag([over(window, CANVAS, at) for at in [(1200, 800), (800, 500), (500, 360)]])
    window.click_cell("buoy", "Placement")
    window.type_on_card("Size of buoy, number", "25")
    window.type_on_card("Across of buoy, number", "2000")
    window.type_on_card("Down of buoy, number", "1250")
    window.click_cell("barge", "Placement")
    window.type_on_card("Size of barge, number", "70")
    window.shot("10_placed")
    # Cutting a plate out asks for it to be fused; that goes on beside the placing.
    window.wait_while_working("^Measured and fused")
    for name in ["barge", "tug", "buoy"]:
        check(window.cell(name, "Fuse").name.endswith("done"), f"the {name}'s Fuse cell says done")
    window.click_cell_named("Finish: ")
    window.settle()
    window.shot("11_scene")
    before = window.processor_time()
    window.rest(10)
    used = window.processor_time() - before
    check(used < 0.1, f"the window at rest used {used:.2f} s of processor time in 10 s")


def save_and_close(window):
    stage("saved and closed")
    window.keys("ctrl+s")
    window.type("Project file", PROJECT[: -len(".platebench")], enter=True)
    window.find("saved")
    window.shot("12_saved")
    window.keys("ctrl+q")
    window.ends()
    record = saved()
    names = [placed["name"] for placed in record["project"]["placements"]]
    check(names[0] == "sky" and sorted(names[1:]) == ["barge", "buoy", "tug"], "the sky lies behind everything")
    barge = plate(record, "barge")
    kinds = [next(iter(part["shape"])) for part in barge["masks"][0]["parts"]]
    check(kinds == ["outline", "stroke", "stroke"], "the mask holds an outline and two strokes")
    nodes = [node["at"] for node in barge["masks"][0]["parts"][0]["shape"]["outline"]["nodes"]]
    off = max(abs(a - b) for node, at in zip(nodes, OUTLINE) for a, b in zip(node, at))
    check(len(nodes) == len(OUTLINE) and off < 8.0, f"its points lie where they were clicked, to {off:.1f} px")
    group = barge["groups"][0]
    check(group["mask"] == barge["masks"][0]["id"], "the furnace's group acts through that mask")
    tug = placement(record, "tug")["placing"]["upright"]
    check(
        abs(tug["centre"][0] - 500) < 12 and abs(tug["centre"][1] - 360) < 12 and tug["scale"] == 0.35,
        f"the tug lies where it was carried: {tug['centre']}",
    )
    buoy = placement(record, "buoy")["placing"]["upright"]
    check(buoy["centre"] == [2000.0, 1250.0] and buoy["scale"] == 0.25, "the buoy lies where it was typed to lie")


def swap_and_build(again):
    stage("opened again, the barge swapped, the picture built")
    window = start()
    window.click(PROJECT)
    window.find("Name of barge", 60)
    window.settle()
    window.shot("13_opened_again")
    window.click("More for barge")
    window.click("Swap the source…")
    window.type("Folder or photos", again, enter=True)
    window.shot("14_swap")
    window.click("Swap now")
    said = window.wait_while_working("^barge has its new source")
    check("carried over" in said, f"said: {said}")
    window.keys("ctrl+s")
    window.find("saved")
    window.keys("ctrl+b")
    window.type("Picture file", BUILT)
    window.shot("15_build")
    window.click("Build now")
    window.wait_while_working("^Built ")
    window.settle()
    window.shot("16_built")
    window.keys("ctrl+s")
    window.find("saved")
    window.keys("ctrl+q")
    window.ends()
    record = saved()
    barge = plate(record, "barge")
    check(len(barge["variants"]) == 2 and barge["current"] == barge["variants"][1]["id"], "the barge has its second source")
    kinds = [next(iter(part["shape"])) for part in barge["masks"][0]["parts"]]
    check(kinds == ["outline", "stroke", "stroke"], "the mask was carried over")


def command_line(project, output, *more):
    """Builds a project by the command line; gives the fingerprint of its pixels."""
    arguments = [PROGRAM, "build", project, "-o", output, "--json", "--progress", "never", *more]
    done = subprocess.run(arguments, capture_output=True, text=True, check=False)
    check(done.returncode == 0, f"the command line built {os.path.basename(output)}")
    return json.loads(done.stdout)["pixels"]


def compare():
    stage("the same pixels by the command line")
    with open(BUILT + ".receipt.json", encoding="utf-8") as file:
        receipt = json.load(file)
    by_command = command_line(PROJECT, os.path.join(OUT, "by_command.tif"))
    check(receipt["pixels"] == by_command, f"the window's file is the command line's: {by_command}")
    stage("the furnace lights up what was painted")
    record = saved()
    barge = plate(record, "barge")
    dark = os.path.join(SHOOT, "dark.platebench")
    # The same project with one more edit in its record: the group put out.
    group = dict(barge["groups"][0], on=False)
    last = record["now"]
    number = max(revision["id"] for revision in record["edits"]) + 1
    record["edits"].append({"id": number, "parent": last, "edit": {"plate": [barge["id"], {"set-group": group}]}})
    record["now"] = number
    plate(record, "barge")["groups"][0]["on"] = False
    with open(dark, "w", encoding="utf-8") as file:
        json.dump(record, file)
    lit, unlit = os.path.join(OUT, "lit.png"), os.path.join(OUT, "unlit.png")
    command_line(PROJECT, lit, "--bits", "8")
    command_line(dark, unlit, "--bits", "8")
    box = pictures.differing_box(lit, unlit)
    check(box is not None, f"the furnace changes the picture, within {box}")
    upright = placement(record, "barge")["placing"]["upright"]
    to_scene = lambda at: [(at[i] - PLATE[i] / 2) * upright["scale"] + upright["centre"][i] for i in (0, 1)]
    (left, top), (right, bottom) = to_scene(PAINTED[:2]), to_scene(PAINTED[2:])
    inside = box[0] >= left and box[1] >= top and box[2] <= right and box[3] <= bottom
    check(inside, f"only inside what was painted, {left:.0f} {top:.0f} {right:.0f} {bottom:.0f}")


def killed_while_painting():
    stage("killed in the middle of a stroke")
    window = start("open", PROJECT)
    window.find("Name of barge", 60)
    window.click_cell("barge", "Lights")
    window.click_on_card("Draw the mask of lights 1")
    window.click_on_card("Draw strokes")
    window.settle()
    window.drag([over(window, PLATE, at) for at in [(900, 700), (1000, 720)]])
    window.find("Show + stroke 4")
    window.drag([over(window, PLATE, at) for at in [(1100, 800), (1200, 820), (1300, 840)]], hold=True)
    window.rest(2.0)
    window.shot("17_painting")
    window.kill()
    window = start()
    window.find("Unsaved work was found", 60)
    window.shot("18_left_behind")
    window.click("Take up whole job")
    window.find("Name of barge", 60)
    window.find("not saved")
    window.keys("ctrl+s")
    window.find("saved")
    window.shot("19_taken_up")
    window.keys("ctrl+q")
    window.ends()
    parts = plate(saved(), "barge")["masks"][0]["parts"]
    strokes = [part["shape"]["stroke"]["points"] for part in parts if "stroke" in part["shape"]]
    check(len(strokes) == 4, "both new strokes are there, the one under way too")
    end = strokes[3][-1]
    check(abs(end[0] - 1300) < 8 and abs(end[1] - 840) < 8, f"up to where the pointer was: {end}")


def whole_job():
    again = copy_photos()
    window = new_scene()
    fuse(window)
    lights(window)
    cut_out(window)
    place(window)
    save_and_close(window)
    swap_and_build(again)
    compare()
    killed_while_painting()
    stage("the whole job was done in a real window")


main(whole_job)
