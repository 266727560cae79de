"""Crops of real textures from openly licensed Debian packages, as one small file to carry to a machine with a GPU.

    python -m training.textures FOLDER OUT.npz

Fetches the packages by name with `apt-get download` into FOLDER, unpacks them, cuts crops. OUT.npz holds `train`
and `unseen` (JPEG files end to end, uint8), their `train_ends` and `unseen_ends`, and `licences` (one a package).
The crops are never copied into the repository. Packages of `UNSEEN` are for the held-out family alone.
"""

import subprocess
import sys
import zipfile
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

Image = NDArray[np.uint8]

# Package: what its copyright file says of the pictures.
TRAIN = {
    "gimp-data": "GPL-3+, patterns CC-BY-SA-3.0 and CC-BY-SA-4.0",
    "gnome-backgrounds": "CC-BY-SA-3.0, CC-BY-2.0",
    "openarena-081-textures": "GPL-2+",
    "plasma-workspace-wallpapers": "GPL-2+, CC-BY-SA-4.0",
}
UNSEEN = {
    "lomiri-wallpapers-20.04": "CC-BY-4.0, CC-BY-SA-3.0, CC-BY-SA-4.0, CC0-1.0",
    "mate-backgrounds": "GPL-2+, CC-BY-SA-4.0",
}
SIDE = 256
MOST = 420  # crops of one package
KINDS = {".jpg", ".png", ".webp", ".tga", ".pat"}


def fetch(packages: list[str], folder: Path) -> None:
    """Each package unpacked into FOLDER/<package>, packed games' archives too; what is there stays."""
    folder.mkdir(parents=True, exist_ok=True)
    for name in packages:
        into = folder / name
        if into.is_dir():
            continue
        subprocess.run(["apt-get", "download", name], cwd=folder, check=True)  # noqa: S603, S607
        package = str(next(folder.glob(f"{name}_*.deb")))
        subprocess.run(["dpkg", "-x", package, str(into)], check=True)  # noqa: S603, S607
        for packed in sorted(into.rglob("*.pk3")):
            if packed.is_file():
                zipfile.ZipFile(packed).extractall(into / "unpacked")


def _pattern(path: Path) -> Image:
    """A GIMP pattern (.pat, version 1): header length, version, width, height, bytes a pixel, then the pixels."""
    data = path.read_bytes()
    start, _, width, height, depth = (int.from_bytes(data[i : i + 4], "big") for i in (0, 4, 8, 12, 16))
    pixels = np.frombuffer(data[start : start + width * height * depth], np.uint8).reshape(height, width, depth)
    rgb = pixels[..., :3] if depth >= 3 else np.repeat(pixels[..., :1], 3, 2)
    return np.ascontiguousarray(rgb[..., ::-1])


def crops(folder: Path, rng: np.random.Generator) -> list[bytes]:
    """At most MOST crops, SIDE px square, as JPEG, from the pictures under `folder`; flat ones left out."""
    files = [path for path in sorted(folder.rglob("*")) if path.suffix.lower() in KINDS and path.is_file()]
    out: list[bytes] = []
    seen: set[float] = set()
    for i in rng.permutation(len(files)):
        path = files[i]
        image = _pattern(path) if path.suffix == ".pat" else cv2.imread(str(path))
        if image is None or min(image.shape[:2]) < 100:
            continue
        key = round(float(image.mean()), 3)  # the same picture in several sizes or places
        if key in seen:
            continue
        seen.add(key)
        height, width = image.shape[:2]
        for _ in range(4 if min(height, width) > 900 else 1):
            side = min(height, width)
            side = int(side * rng.uniform(0.2, 1.0)) if side > 900 else side
            y, x = int(rng.integers(0, height - side + 1)), int(rng.integers(0, width - side + 1))
            crop = cv2.resize(image[y : y + side, x : x + side], (SIDE, SIDE),
                              interpolation=cv2.INTER_AREA if side > SIDE else cv2.INTER_CUBIC)  # fmt: skip
            if crop.std() >= 4:
                out.append(cv2.imencode(".jpg", crop, [cv2.IMWRITE_JPEG_QUALITY, 85])[1].tobytes())
        if len(out) >= MOST:
            break
    return out


def pack(folder: Path, out: Path) -> dict[str, int]:
    """Crops of all packages under `folder` into `out`; how many of each."""
    rng = np.random.default_rng(5)
    count: dict[str, int] = {}
    held: dict[str, NDArray[np.generic]] = {}
    for part, packages in (("train", TRAIN), ("unseen", UNSEEN)):
        files: list[bytes] = []
        for name in packages:
            found = crops(folder / name, rng)
            count[name] = len(found)
            files += found
        held[part] = np.frombuffer(b"".join(files), np.uint8)
        held[part + "_ends"] = np.cumsum([len(f) for f in files])
    held["licences"] = np.array([f"{name}: {text}" for name, text in {**TRAIN, **UNSEEN}.items()])
    with out.open("wb") as file:
        np.savez(file, **held)  # type: ignore[arg-type]
    return count


def read(path: Path, part: str) -> NDArray[np.uint8]:
    """(n, SIDE, SIDE, 3) sRGB crops of `part` ("train" or "unseen")."""
    with np.load(path) as held:
        data, ends = held[part], held[part + "_ends"]
    starts = np.concatenate([[0], ends[:-1]])
    crops = [cv2.imdecode(data[a:b], cv2.IMREAD_COLOR) for a, b in zip(starts, ends, strict=True)]
    return np.stack([np.asarray(crop, np.uint8)[:, :, ::-1] for crop in crops])


def main() -> None:
    """The command above."""
    folder, out = Path(sys.argv[1]), Path(sys.argv[2])
    fetch([*TRAIN, *UNSEEN], folder)
    sys.stdout.write("".join(f"{name}: {n} crops\n" for name, n in pack(folder, out).items()))


if __name__ == "__main__":
    main()
