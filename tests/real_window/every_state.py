"""Leaves pictures of the window in every state, to be looked at: start page, each kind of card, comparing, dialogues, menus.

usage: every_state.py PROGRAM PROJECT OUT, through whole_job.sh, which also sets the screen's size (SCREEN=1920x1080);
SURROUND=light and TEXT_SCALE=2.0 choose the looks, WINIT_X11_SCALE_FACTOR=2 a display of twice the pixels.
PROJECT has a plate 'barge' with lights behind a mask, as whole_job.py leaves it.
"""

import os
import re
import sys

from hands import Window, main, stage

PROGRAM, PROJECT, OUT = sys.argv[1:4]
SIZE = tuple(int(side) for side in os.environ.get("SCREEN", "1280x800").split("x"))
TEXT = {"1.25": "Text larger by a quarter", "1.5": "Text larger by half", "2.0": "Text twice as large"}


def looks(window):
    """Sets the looks that the environment asks for; they are kept for the next start."""
    if os.environ.get("SURROUND") == "light":
        window.click("Looks")
        window.click("Light surround")
        window.keys("Escape")
    wanted = TEXT.get(os.environ.get("TEXT_SCALE", "1.0"))
    if wanted:
        window.click("Looks")
        window.click(wanted)
        window.keys("Escape")


def every_state():
    stage("the start page")
    window = Window([PROGRAM], OUT, size=SIZE)
    window.find("Open the demo scene", 60)
    looks(window)
    window.settle()
    window.shot("start")
    window.keys("ctrl+q")
    window.ends()
    stage("the cells of the sheet")
    window = Window([PROGRAM, "open", PROJECT], OUT, size=SIZE)
    window.find("Name of barge", 60)
    window.settle(quiet=4)
    window.shot("scene")
    for column in ["Frames", "Register", "Match", "Fuse", "Matte", "Lights", "Placement"]:
        window.click_cell("barge", column)
        window.settle()
        window.shot(f"barge_{column.lower()}")
    window.click_cell("sky", "Fuse")
    window.settle()
    window.shot("sky_recipe")
    stage("ways to compare")
    window.click_cell("barge", "Lights")
    for way in ["Line-up", "Split", "Difference", "Blink"]:
        window.click(way)
        window.rest(2.5)
        window.shot(f"compare_{way.lower()}")
    window.click("This stage")
    stage("dialogues and menus")
    for keys, name in [("ctrl+b", "build"), ("ctrl+shift+s", "save_as"), ("ctrl+o", "open"), ("ctrl+i", "add_photos")]:
        window.keys(keys)
        window.rest(0.6)
        window.shot(f"dialogue_{name}")
        window.click("Cancel")
    for menu in ["Edits", "Scene", "Looks", "More for barge", "Blend of barge"]:
        window.click(menu)
        window.rest(0.6)
        window.shot(f"menu_{re.sub('[^a-z]+', '_', menu.lower())}")
        window.keys("Escape")
    window.keys("ctrl+q")
    window.ends()


main(every_state)
