"""Trains the chooser of candidates: gradient boosting on their traits, written out as an ONNX file.

    python -m training.chooser traits PICTURES OUT.npz        candidates, traits and fits of a folder of pictures
    python -m training.chooser train OUT.npz ... chooser.onnx

Needs scikit-learn; with OMP_NUM_THREADS=1 it takes seconds even on a busy machine. A candidate that overlaps a face
by 0.95 is right, one by 0.85 or less is wrong, and in between it is in part: so the closer of two is the likelier.
"""

import sys
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import onnx
from numpy.typing import NDArray
from onnx import helper

from seamsurvey.sight.candidates import candidates
from seamsurvey.sight.evidence import maps
from seamsurvey.sight.traits import NAMES, traits
from training.judged import FOUND, fits, read

WRONG, RIGHT = 0.85, 0.95
OTHERS = 250  # wrong candidates kept of one picture


def gather(folder: Path, out: Path) -> None:
    """Traits and fits of all candidates in a folder's pictures, with the picture each is of."""
    rows, fit, of = [], [], []
    for k, path in enumerate(sorted(folder.glob("*.png"))):
        picture = np.ascontiguousarray(np.asarray(cv2.imread(str(path)), np.uint8)[:, :, ::-1])
        truth = read(path.with_suffix(".json"), max(picture.shape[:2]))
        evidence = maps(picture)
        found = candidates(evidence)
        rows.append(traits(evidence, found))
        fit.append(fits([evidence.to_image(c.outline) for c in found], truth)[0])
        of.append(np.full(len(found), k))
        sys.stdout.write(f"{path.name}: {len(found)} candidates, {int((fit[-1] > FOUND).sum())} right\n")
        sys.stdout.flush()
    np.savez(out, traits=np.concatenate(rows), fit=np.concatenate(fit), of=np.concatenate(of))


def onnx_of(model: Any) -> onnx.ModelProto:
    """A fitted HistGradientBoostingClassifier (no categories, no missing values) as ONNX: the log of the odds."""
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
                fields["target_weights"].append(float(node["value"]))
    node = helper.make_node("TreeEnsembleRegressor", ["traits"], ["score"], domain="ai.onnx.ml", n_targets=1,
                            base_values=[float(np.ravel(model._baseline_prediction)[0])], **fields)  # fmt: skip
    graph = helper.make_graph(
        [node], "chooser", [helper.make_tensor_value_info("traits", onnx.TensorProto.FLOAT, ["n", len(NAMES)])],
        [helper.make_tensor_value_info("score", onnx.TensorProto.FLOAT, ["n", 1])],
    )  # fmt: skip
    sets = [helper.make_opsetid("", 17), helper.make_opsetid("ai.onnx.ml", 3)]
    made = helper.make_model(graph, opset_imports=sets, producer_name="seamsurvey", ir_version=8)
    helper.set_model_props(made, {"traits": " ".join(NAMES)})
    onnx.checker.check_model(made)
    return made


def train(files: list[Path], out: Path) -> None:
    """Fits on all files' candidates; says how it does on a fifth of the pictures kept back, then fits on all."""
    from sklearn.ensemble import HistGradientBoostingClassifier  # noqa: PLC0415 - only this needs it

    rng = np.random.default_rng(3)
    rows: list[NDArray[np.float32]] = []
    good, of = [], []
    for n, file in enumerate(files):
        held = np.load(file)
        for k in np.unique(held["of"]):
            mine = np.flatnonzero(held["of"] == k)
            near = mine[held["fit"][mine] >= WRONG]
            far = mine[held["fit"][mine] < WRONG]
            kept = np.concatenate([near, rng.permutation(far)[:OTHERS]])
            rows.append(held["traits"][kept])
            good.append(np.clip((held["fit"][kept] - WRONG) / (RIGHT - WRONG), 0, 1))
            of.append(np.full(len(kept), n * 100_000 + k))
    x, share, group = np.concatenate(rows), np.concatenate(good), np.concatenate(of)
    back = np.isin(group, np.unique(group)[::5])

    def fitted(part: NDArray[np.bool_]) -> Any:
        """Each candidate twice: as right with its share of rightness for a weight, as wrong with the rest."""
        twice, weight = np.concatenate([x[part], x[part]]), np.concatenate([share[part], 1 - share[part]])
        y = np.repeat([True, False], int(part.sum()))
        model = HistGradientBoostingClassifier(
            max_iter=200, max_leaf_nodes=15, learning_rate=0.07, l2_regularization=2.0, min_samples_leaf=15,
            early_stopping=False, random_state=1,
        )  # fmt: skip
        return model.fit(twice[weight > 0], y[weight > 0], sample_weight=weight[weight > 0])

    sure, right = fitted(~back).predict_proba(x[back])[:, 1] > 0.5, share[back] > 0.5
    wrong, false = int((sure != right).sum()), int((sure & (share[back] == 0)).sum())
    sys.stdout.write(f"{len(x)} candidates, {int((share > 0.5).sum())} right; of {len(right)} kept back, ")
    sys.stdout.write(
        f"{int(right.sum())} right, {wrong} judged wrong, {false} that are no face's taken for cards\n"
    )
    model = fitted(np.ones(len(x), bool))
    out.write_bytes(onnx_of(model).SerializeToString(deterministic=True))


def main() -> None:
    """The commands above."""
    if sys.argv[1] == "traits":
        gather(Path(sys.argv[2]), Path(sys.argv[3]))
    else:
        train([Path(p) for p in sys.argv[2:-1]], Path(sys.argv[-1]))


if __name__ == "__main__":
    main()
