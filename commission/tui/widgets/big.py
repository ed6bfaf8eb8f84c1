"""Words and numbers in letters five cells high or more, to be read at arm's length."""

from __future__ import annotations

_BLOCK = "█"
_ROWS = 5
_SIZES = ((6, 3), (4, 2), (2, 1), (1, 1))  # cells of one dot, across and down; the largest first

# Five rows of dots, the first on top.
_GLYPHS = {
    "0": " ### /#   #/# # #/#   #/ ### ", "1": "  #  / ##  /  #  /  #  / ### ",
    "2": "#### /    #/ ### /#    /#####", "3": "#### /    #/ ### /    #/#### ",
    "4": "#   #/#   #/#####/    #/    #", "5": "#####/#    /#### /    #/#### ",
    "6": " ### /#    /#### /#   #/ ### ", "7": "#####/    #/   # /  #  /  #  ",
    "8": " ### /#   #/ ### /#   #/ ### ", "9": " ### /#   #/ ####/    #/ ### ",
    "A": " ### /#   #/#####/#   #/#   #", "B": "#### /#   #/#### /#   #/#### ",
    "C": " ####/#    /#    /#    / ####", "D": "#### /#   #/#   #/#   #/#### ",
    "E": "#####/#    /#### /#    /#####", "F": "#####/#    /#### /#    /#    ",
    "G": " ####/#    /#  ##/#   #/ ####", "H": "#   #/#   #/#####/#   #/#   #",
    "I": "###/ # / # / # /###", "J": "  ###/   # /   # /#  # / ##  ",
    "K": "#   #/#  # /###  /#  # /#   #", "L": "#    /#    /#    /#    /#####",
    "M": "#   #/## ##/# # #/#   #/#   #", "N": "#   #/##  #/# # #/#  ##/#   #",
    "O": " ### /#   #/#   #/#   #/ ### ", "P": "#### /#   #/#### /#    /#    ",
    "Q": " ### /#   #/# # #/#  # / ## #", "R": "#### /#   #/#### /#  # /#   #",
    "S": " ####/#    / ### /    #/#### ", "T": "#####/  #  /  #  /  #  /  #  ",
    "U": "#   #/#   #/#   #/#   #/ ### ", "V": "#   #/#   #/#   #/ # # /  #  ",
    "W": "#   #/#   #/# # #/## ##/#   #", "X": "#   #/ # # /  #  / # # /#   #",
    "Y": "#   #/ # # /  #  /  #  /  #  ", "Z": "#####/   # /  #  / #   /#####",
    "x": "     /#   #/ ### / ### /#   #", "+": "     /  #  / ### /  #  /     ",
    "-": "     /     / ### /     /     ", "?": " ### /    #/  ## /     /  #  ",
    "<": "   # /  #  / #   /  #  /   # ", ">": " #   /  #  /   # /  #  / #   ",
    ".": " / / / /#", ",": "  /  /  / #/# ", ":": " /#/ /#/ ", "/": "    #/   # /  #  / #   /#    ",
    " ": "   /   /   /   /   ",
}  # fmt: skip


def big(text: str, width: int, height: int) -> str:
    """A text in large letters, as large as the place; as it is where a letter is not known.

    Small letters are not made into capitals: a milliohm is no megohm.
    """
    if not text or not all(one in _GLYPHS for one in text):
        return text
    glyphs = [_GLYPHS[one].split("/") for one in text]
    dots = sum(len(glyph[0]) + 1 for glyph in glyphs) - 1
    for across, down in _SIZES:
        if dots * across <= width and _ROWS * down <= height:
            return "\n".join(_row(glyphs, number // down, across) for number in range(_ROWS * down))
    return text


def _row(glyphs: list[list[str]], number: int, across: int) -> str:
    dots = " ".join(glyph[number] for glyph in glyphs)
    return "".join((_BLOCK if dot == "#" else " ") * across for dot in dots).rstrip()
