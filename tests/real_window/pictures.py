"""Looks at finished pictures, as far as the real-window scripts need to; ImageMagick reads the files."""

import subprocess


def pixels(path):
    """Width, height and the bytes of a picture: red, green, blue, 8 bits each."""
    size = subprocess.run(["identify", "-format", "%w %h", path], capture_output=True, text=True, check=True).stdout
    width, height = (int(side) for side in size.split()[:2])
    raw = subprocess.run(["convert", path, "-depth", "8", "rgb:-"], capture_output=True, check=True).stdout
    return width, height, raw


def differing_box(one, other):
    """Left, top, right, bottom of where two pictures of one size differ; None where they are the same."""
    width, height, first = pixels(one)
    second = pixels(other)[2]
    left, top, right, bottom = width, None, 0, 0
    line = width * 3
    for y in range(height):
        a, b = first[y * line : (y + 1) * line], second[y * line : (y + 1) * line]
        if a == b:
            continue
        top = y if top is None else top
        bottom = y + 1
        differing = [at // 3 for at in range(line) if a[at] != b[at]]
        left, right = min(left, differing[0]), max(right, differing[-1] + 1)
    return None if top is None else (left, top, right, bottom)


def cut_out(path, box):
    """The part of a picture within left, top, width, height, as a file beside it."""
    left, top, width, height = box
    part = path.replace(".png", "_part.png")
    subprocess.run(["convert", path, "-crop", f"{width}x{height}+{left}+{top}", "+repage", part], check=True)
    return part
