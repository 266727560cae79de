"""Path-traced pictures of cut cards with their exact truth: a renderer that shares nothing with `tests.scene`.

Only the block drawings come from there. Light, cards, grounds, references and cameras are made anew with
Blender's Cycles, so that what holds on both kinds of picture is not a habit of one renderer.

It needs Blender as a module, which has wheels for one Python only, so it has an environment of its own:

    python3.11 -m venv /tmp/traced
    /tmp/traced/bin/pip install bpy==5.0.1 numpy pillow opencv-python-headless shapely \
        fontpkg-kalam fontpkg-caveat fontpkg-permanent-marker fontpkg-indie-flower fontpkg-roboto
    /tmp/traced/bin/python -m tests.traced --seed 1 --count 4 --out /tmp/pictures

A picture of six megapixels takes about three minutes of one processor core, most of it rays and denoising.

Each picture gets a folder `<k>-<block>` with `picture.jpg` and `truth.json`. One card of each template of the
block is in it, and something that gives its size. The same seed, count or not, gives the same k-th picture.
No test and nothing that is shipped imports this.

What they lack: cards, cloth and mats are flat; a clear pane bends no light; a face lit by the lamp through such a
pane has no caustics; a tape ends in sight; the phone's program does not map tones locally.

Frames: table, mm, x right, y up, z towards the camera; a card's or reference's own, mm, y up, its printed face
up; pixels, x right, y down, centres at integers, in the upright picture.
"""
