"""The lights desk in a real window: a light pass is added to the barge, the proposed mask accepted, corrected by two strokes and an
outline, three faders moved; then everything undone to the start and redone to the end. The pixels are the same as before.

usage: lights.py PROGRAM PHOTOS OUT, through whole_job.sh

PHOTOS is the folder `photos` of the demo scene.
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
LIT = os.path.join(OUT, "lit_photos")
PROJECT = os.path.join(SHOOT, "lights.platebench")
PLATE = (2400, 1600)

# Places on the barge's photos, in pixels.
OUTLINE = [(560, 620), (700, 600), (720, 700), (580, 720)]
STROKES = [[(1180, 760), (1320, 720), (1450, 690)], [(900, 940), (980, 960), (1060, 1000)]]


def copy_photos():
    for folder, start in [(SHOOT, "barge_unlit"), (LIT, "barge_furnace")]:
        os.makedirs(folder)
        for name in sorted(os.listdir(os.path.join(PHOTOS, "barge"))):
            if name.startswith(start):
                shutil.copy(os.path.join(PHOTOS, "barge", name), folder)


def new_scene():
    stage("a scene of the barge's unlit stack")
    window = Window([PROGRAM], OUT, size=(1280, 800))
    window.find("Open the demo scene", 60)
    window.type("Folder or photos", SHOOT, enter=True)
    window.click("Look at these photos")
    window.find("Stacks and passes", 60)
    window.click("Take these groups")
    window.find("Name of barge", 60)
    window.click_cell("barge", "Fuse")
    window.click_on_card("Fuse this plate")
    window.wait_while_working("^Measured and fused")
    return window


def add_pass(window):
    stage("the furnace pass is added")
    window.keys("ctrl+i")
    window.type("Folder or photos", LIT, enter=True)
    window.click("Look at these photos")
    window.find("Stacks and passes", 60)
    window.shot("01_pass_groups")
    window.click("Take these groups")
    window.click_cell("barge", "Lights")
    window.click_on_card("Add a group from furnace")
    window.wait_while_working("^Measured and fused")


def mask(window):
    stage("the proposed mask is accepted and corrected")
    window.click_on_card("Propose a mask for lights 1")
    window.wait_while_working("^A mask is proposed")
    window.settle()
    window.shot("02_proposed")
    window.click_on_card("Draw the mask of lights 1")
    window.click_on_card("Draw strokes")
    window.settle()
    for stroke in STROKES:
        window.drag([over(window, PLATE, at) for at in stroke])
    window.click_on_card("Set out an outline")
    for at in OUTLINE:
        window.click_at(over(window, PLATE, at))
    window.keys("Return")
    window.settle()
    window.shot("03_corrected")
    window.keys("Escape")


def faders(window):
    stage("three faders are moved")
    window.type_on_card("Lit by of lights 1, number", "1.5")
    window.type_on_card("Lamp of lights 1, number", "3200")
    window.type_on_card("Glow size of lights 1, number", "60")
    window.type_on_card("Glow share of lights 1, number", "30")
    window.settle()
    window.shot("04_faders")


def built(window, name):
    """Saves, and gives the pixels that the command line builds from what was saved."""
    window.keys("ctrl+s")
    window.find("saved")
    arguments = [PROGRAM, "build", PROJECT, "-o", os.path.join(OUT, name), "--json", "--progress", "never"]
    done = subprocess.run(arguments, capture_output=True, text=True, check=False)
    check(done.returncode == 0, f"the command line built {name}")
    return json.loads(done.stdout)["pixels"]


def undo_and_redo(window):
    stage("undone to the start, redone to the end")
    window.keys("ctrl+s")
    window.type("Project file", PROJECT[: -len(".platebench")], enter=True)
    window.find("saved")
    window.click("Dismiss")
    window.settle()
    window.shot("05_before")
    before = built(window, "before.tif")
    steps = 0
    while window.find("Undo").enabled():
        window.keys("ctrl+z")
        steps += 1
        check(steps < 100, f"step {steps} undone")
    window.shot("06_start")
    for _step in range(steps):
        window.keys("ctrl+shift+z")
    check(not window.find("Redo").enabled(), f"all {steps} steps are done again")
    window.click_cell("barge", "Lights")
    window.settle(quiet=3)
    window.shot("07_after")
    check(built(window, "after.tif") == before, f"the same pixels as before: {before}")
    picture = window.find("Picture").box()
    shots = [pictures.cut_out(os.path.join(OUT, name), picture) for name in ("05_before.png", "07_after.png")]
    box = pictures.differing_box(*shots)
    check(box is None, f"the window shows the same picture as before ({box})")


def lights():
    copy_photos()
    window = new_scene()
    add_pass(window)
    mask(window)
    faders(window)
    undo_and_redo(window)
    window.keys("ctrl+q")
    window.ends()
    with open(PROJECT, encoding="utf-8") as file:
        barge = json.load(file)["project"]["plates"][0]
    kinds = [next(iter(part["shape"])) for part in barge["masks"][0]["parts"]]
    check(kinds[-3:] == ["stroke", "stroke", "outline"] and len(kinds) > 3, f"the mask: {len(kinds)} parts, three drawn")
    group = barge["groups"][0]
    check(group["stops"] == 1.5 and group["glow_px"] == 60.0, "the faders are where they were set")
    stage("the lights desk was worked in a real window")


main(lights)
