"""Pictures with exactly known truth, for tests: card templates beside a ruler, scanned or photographed.

Nothing here comes from the tool under test. The geometry, the optics and the truth are worked out again
with NumPy alone (OpenCV's `projectPoints` for the phone camera, Pillow for the JPEG file), so that an
agreement between the tool and a truth means something.

Frames: *image* = pixels, x right, y down, a pixel's centre is the integer; *table* = mm on the scanner's
glass or on the table, x right, y up; *block* = mm, x right, y up, origin at the lower left corner.
Outlines run counter-clockwise in the table and block frames.
"""
