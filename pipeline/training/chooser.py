"""Trains the chooser of candidates: gradient boosting on their traits, written out as an ONNX file.

    python -m training.chooser traits PICTURES OUT.npz [--likely]
    python -m training.chooser train OUT.npz ... chooser.onnx

The first writes candidates, traits and fits of a folder of pictures; with `--likely` only of those that the chooser
at hand does not rule out: fewer and harder ones.

Needs scikit-learn; with OMP_NUM_THREADS=1 it takes seconds even on a busy machine. A candidate that overlaps a face
by 0.95 is right, one by 0.85 or less is wrong, and in between it is in part: so the closer of two is the likelier.
Chances are made true by the pictures kept back (Platt 1999): of the cards taken at one half, half are right.
"""

import multiprocessing as mp
import os
import sys
from functools import partial
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import onnx
from numpy.typing import NDArray
from onnx import helper

from seamsurvey.sight.candidates import Candidate, candidates
from seamsurvey.sight.choose import fitting
from seamsurvey.sight.evidence import maps, session
from seamsurvey.sight.traits import NAMES, traits
from training.judged import FOUND, fits, read

WRONG, RIGHT = 0.85, 0.95
OTHERS = 150  # wrong candidates kept of one picture
LIKELY, HOPELESS = 160, -8.0  # so many of a picture at most, of higher log odds than this
FOLDS = 3
TREES, LEAVES, RATE = 200, 15, 0.08
DRAWN = 32.0  # steps a px in which outlines are kept


def likely(rows: NDArray[np.float32]) -> NDArray[np.int64]:
    """Numbers of the rows of traits that the chooser at hand does not rule out, the likeliest first."""
    if not len(rows):
        return np.zeros(0, np.int64)
    odds = np.asarray(session("chooser.onnx").run(None, {"traits": rows})[0])[:, 0]
    order = np.argsort(-odds, kind="stable")[:LIKELY]
    return np.asarray(order[odds[order] > HOPELESS], np.int64)


def gathered(path: Path, *, only_likely: bool) -> dict[str, NDArray[Any]]:
    """Traits, fits and outlines of a picture's candidates."""
    cv2.setNumThreads(1)
    picture = np.ascontiguousarray(np.asarray(cv2.imread(str(path)), np.uint8)[:, :, ::-1])
    truth = read(path.with_suffix(".json"), max(picture.shape[:2]))
    evidence = maps(picture)
    found = candidates(evidence)
    rows = traits(evidence, found)
    if only_likely:
        kept = likely(rows)
        found, rows = [found[i] for i in kept], rows[kept]
    drawn = [np.rint(np.clip(c.outline + 100, 0, 2000) * DRAWN).astype(np.uint16) for c in found]
    return {
        "traits": rows,
        "fit": fits([evidence.to_image(c.outline) for c in found], truth)[0].astype(np.float32),
        "points": np.concatenate([np.zeros((0, 2), np.uint16), *drawn]),
        "ends": np.array([len(p) for p in drawn], np.int64),
    }


def gather(folder: Path, out: Path, *, only_likely: bool) -> None:
    """The same of all of a folder's pictures, with the number of the picture each is of, on all cores."""
    files = sorted(folder.glob("*.png"))
    parts: list[dict[str, NDArray[Any]]] = []
    with mp.get_context("spawn").Pool(len(os.sched_getaffinity(0))) as pool:
        for path, part in zip(files, pool.imap(partial(gathered, only_likely=only_likely), files), strict=True):
            parts.append(part | {"of": np.full(len(part["fit"]), len(parts))})
            right = int((part["fit"] > FOUND).sum())
            sys.stdout.write(f"{path.name}: {len(part['fit'])} candidates, {right} right\n")
            sys.stdout.flush()
    whole = {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}
    np.savez_compressed(out, **{**whole, "ends": np.cumsum(whole["ends"])})  # type: ignore[arg-type]


def onnx_of(model: Any, slope: float = 1.0, shift: float = 0.0) -> onnx.ModelProto:
    """A fitted HistGradientBoostingClassifier (no categories, no missing values) as ONNX: the log of the odds.

    `slope`, `shift`: what makes those odds true.
    """
    fields: dict[str, list[Any]] = {name: [] for name in (
        "nodes_treeids", "nodes_nodeids", "nodes_featureids", "nodes_values", "nodes_modes", "nodes_truenodeids",
        "nodes_falsenodeids", "target_treeids", "target_nodeids", "target_ids", "target_weights")}  # fmt: skip
    for tree, (predictor,) in enumerate(model._predictors):
        for i, node in enumerate(predictor.nodes):
            leaf = bool(node["is_leaf"])
            fields["nodes_treeids"].append(tree)
            fields["nodes_nodeids"].append(i)
            fields["nodes_featureids"].append(0 if leaf else int(node["feature_idx"]))
            fields["nodes_values"].append(0.0 if leaf else float(np.float32(node["num_threshold"])))
            fields["nodes_modes"].append("LEAF" if leaf else "BRANCH_LEQ")
            fields["nodes_truenodeids"].append(0 if leaf else int(node["left"]))
            fields["nodes_falsenodeids"].append(0 if leaf else int(node["right"]))
            if leaf:
                fields["target_treeids"].append(tree)
                fields["target_nodeids"].append(i)
                fields["target_ids"].append(0)
                fields["target_weights"].append(slope * float(node["value"]))
    base = slope * float(np.ravel(model._baseline_prediction)[0]) + shift
    node = helper.make_node("TreeEnsembleRegressor", ["traits"], ["score"], domain="ai.onnx.ml", n_targets=1,
                            base_values=[base], **fields)  # fmt: skip
    graph = helper.make_graph(
        [node], "chooser", [helper.make_tensor_value_info("traits", onnx.TensorProto.FLOAT, ["n", len(NAMES)])],
        [helper.make_tensor_value_info("score", onnx.TensorProto.FLOAT, ["n", 1])],
    )  # fmt: skip
    sets = [helper.make_opsetid("", 17), helper.make_opsetid("ai.onnx.ml", 3)]
    made = helper.make_model(graph, opset_imports=sets, producer_name="seamsurvey", ir_version=8)
    helper.set_model_props(made, {"traits": " ".join(NAMES)})
    onnx.checker.check_model(made)
    return made


def _fitted(x: NDArray[np.float32], share: NDArray[np.float64]) -> Any:
    """Each candidate twice: as right with its share of rightness for a weight, as wrong with the rest."""
    from sklearn.ensemble import HistGradientBoostingClassifier  # noqa: PLC0415 - only training needs it

    twice, weight = np.concatenate([x, x]), np.concatenate([share, 1 - share])
    y = np.repeat([True, False], len(x))
    model = HistGradientBoostingClassifier(
        max_iter=TREES, max_leaf_nodes=LEAVES, learning_rate=RATE, l2_regularization=2.0, min_samples_leaf=15,
        early_stopping=False, random_state=1,
    )  # fmt: skip
    return model.fit(twice[weight > 0], y[weight > 0], sample_weight=weight[weight > 0])


def _read(files: list[Path]) -> list[dict[str, Any]]:
    """A dictionary a picture: traits, fit, outlines (list of (n, 2), *small* px)."""
    out: list[dict[str, Any]] = []
    for file in files:
        held = dict(np.load(file).items())
        starts = np.concatenate([[0], held["ends"][:-1]])
        for k in np.unique(held["of"]):
            mine = np.flatnonzero(held["of"] == k)
            outlines = [held["points"][starts[i] : held["ends"][i]].astype(float) / DRAWN for i in mine]
            out.append({"traits": held["traits"][mine], "fit": held["fit"][mine], "outlines": outlines})
    return out


def train(files: list[Path], out: Path) -> None:
    """Fits on all files' candidates, once fits on parts have said how true the chances are and how well it does."""
    from sklearn.linear_model import LogisticRegression  # noqa: PLC0415 - only training needs it

    rng = np.random.default_rng(3)
    pictures = _read(files)
    rows, shares, of = [], [], []
    for k, picture in enumerate(pictures):
        fit = picture["fit"]
        kept = np.concatenate([np.flatnonzero(fit >= WRONG), rng.permutation(np.flatnonzero(fit < WRONG))[:OTHERS]])
        rows.append(picture["traits"][kept])
        shares.append(np.clip((fit[kept] - WRONG) / (RIGHT - WRONG), 0, 1))
        of.append(np.full(len(kept), k))
    x, share, group = np.concatenate(rows), np.concatenate(shares).astype(float), np.concatenate(of)
    odds, right = [], []  # of what would be taken, each time by a model that did not know the picture
    for fold in range(FOLDS):
        model = _fitted(x[group % FOLDS != fold], share[group % FOLDS != fold])
        for picture in pictures[fold::FOLDS]:
            score = model.decision_function(picture["traits"])
            found = [Candidate(outline, 1, 1) for outline in picture["outlines"]]
            taken = fitting(found, 1 / (1 + np.exp(-score)), 0.02)
            odds += score[taken].tolist()
            right += (picture["fit"][taken] > FOUND).tolist()
    known, is_right = np.array(odds), np.array(right)
    truer = LogisticRegression(C=1e6).fit(known[:, None], is_right)
    slope, shift = float(truer.coef_[0, 0]), float(truer.intercept_[0])
    chance = 1 / (1 + np.exp(-(slope * known + shift)))
    sys.stdout.write(f"{len(x)} candidates of {len(pictures)} pictures, {int((share > 0.5).sum())} right\n")
    sys.stdout.write(f"kept back: {int((is_right & (chance > 0.5)).sum())} found, ")
    sys.stdout.write(
        f"{int((~is_right & (chance > 0.5)).sum())} taken wrongly; odds times {slope:.2f} {shift:+.2f}\n"
    )
    for low in np.arange(0, 1, 0.1):
        some = (chance >= low) & (chance < low + 0.1)
        if some.any():
            sys.stdout.write(
                f"  chance {chance[some].mean():.2f}: {is_right[some].mean():.2f} of {some.sum()} right\n"
            )
    out.write_bytes(onnx_of(_fitted(x, share), slope, shift).SerializeToString(deterministic=True))


def main() -> None:
    """The commands above."""
    if sys.argv[1] == "traits":
        gather(Path(sys.argv[2]), Path(sys.argv[3]), only_likely="--likely" in sys.argv)
    else:
        train([Path(p) for p in sys.argv[2:-1]], Path(sys.argv[-1]))


if __name__ == "__main__":
    main()
