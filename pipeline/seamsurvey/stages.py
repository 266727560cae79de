"""What all stages of a job share: when one is done again, what is told of it, and what is written down."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from attrs import field, frozen

from seamsurvey import __version__
from seamsurvey.errors import InputError, command
from seamsurvey.job.answers import with_answers
from seamsurvey.job.folder import JobFolder, State
from seamsurvey.job.wishes_file import FILE
from seamsurvey.model import Wishes
from seamsurvey.stage_keys import StageKeys

# In the order of the work: what is made of other files than there are now is put away.
STAGES = ("layouts", "choices", "layout", "foundation", "sheets")

_FEW = 5  # files that are told by name: more of them nobody reads


@frozen
class Progress:
    """What the line tells while it runs: a stage begun, done or kept as it was, or a note for the person."""

    stage: str  # "photo", "templates", "block", "foundation", "sheets"
    state: str  # "begin", "done", "kept", "note"
    text: str = ""


@frozen
class Stages:
    """A job's stages on the disk. ``force`` does every stage again, and overwrites what was changed by hand."""

    job: JobFolder
    wishes: Wishes
    tell: Callable[[Progress], None] = field(default=lambda _: None)
    force: bool = False

    @property
    def keys(self) -> StageKeys:
        """What is said that bears on each stage."""
        return StageKeys(self.wishes)

    def state(self, stage: str, key: str, main: str | None = None) -> State:
        """How a stage's files stand to what is wished for now; ``main`` is the file that may be by hand."""
        return self.job.state(stage, key, main, version=__version__)

    def stands(self, stage: str, key: str, main: str | None = None) -> bool:
        """Whether a stage is used as it is; InputError ``changed-by-hand`` where it can't be done again."""
        if self.force:
            return False
        state = self.state(stage, key, main)
        edited = self.job.edited(stage)
        if state is State.CONFLICT:
            raise self.job.changed_by_hand(edited, "what it is made from, or job.toml, has changed since")
        self.note(SHOWN[stage], [f"{name} was changed by hand and is used so." for name in edited])
        return state is not State.STALE

    def keep(
        self, stage: str, key: str, files: Mapping[str, bytes], sources: Sequence[str] = (),
        photos: Sequence[tuple[str, str]] = (),
    ) -> None:  # fmt: skip
        """Put what a stage made on the disk."""
        self.job.keep(stage, key, files, force=self.force, version=__version__, sources=sources, photos=photos)

    def put_away(self) -> None:
        """Put into ``old`` what is made of other files than there are now, and say so."""
        away = self.job.retire(STAGES)
        if away:
            few = away if len(away) <= _FEW else [*away[: _FEW - 1], f"{len(away) - _FEW + 1} more files"]
            listed = few[0] if len(few) == 1 else f"{', '.join(few[:-1])} and {few[-1]}"
            were = "was" if len(away) == 1 else "were"
            self.note("sheets", [f"{listed} {were} out of date, and put into {self.job.path / 'old'}."])

    def write_down(self, answers: Mapping[tuple[str, ...], Any]) -> None:
        """Answers into job.toml, if there is one, beside what else stands there."""
        written = self.job.read(FILE)
        if written is not None:
            self.job.write(FILE, with_answers(written, answers))

    def needed(self, name: str, *words: str) -> bytes:
        """A file of the job; InputError ``stage-missing`` where there is none yet, and these words make it."""
        content = self.job.read(name)
        if content is None:
            raise InputError(
                "stage-missing",
                f"{self.job.path} has no {name} yet.",
                where=str(self.job.path),
                todo=f"Run {command(*words, self.job.path)} first.",
            )
        return content

    def kept(self, *stages: str) -> None:
        """Tell that stages are as they were."""
        for stage in stages:
            self.tell(Progress(stage, "kept", "nothing changed since it was last done"))

    def begin(self, stage: str) -> None:
        """Tell that a stage begins."""
        self.tell(Progress(stage, "begin"))

    def done(self, stage: str, text: str) -> None:
        """Tell that a stage is done."""
        self.tell(Progress(stage, "done", text))

    def note(self, stage: str, texts: Sequence[str]) -> None:
        """Tell what a person should know."""
        for text in texts:
            self.tell(Progress(stage, "note", text))


# Under which of the five stages a person is told of each.
SHOWN = {
    "measured": "templates", "layouts": "block", "choices": "block", "layout": "block", "partial": "block",
    "foundation": "foundation", "sheets": "sheets",
}  # fmt: skip
