"""Reading the photos a person names."""

from pathlib import Path

from attrs import field, frozen

from seamsurvey.errors import InputError
from seamsurvey.job.writing import content_hash


@frozen
class PhotoFile:
    """A photo as it lies on the disk, under a name that no other photo of the job has."""

    name: str
    sha256: str
    content: bytes = field(repr=False)
    path: Path | None = field(default=None, eq=False)  # where it lies
    gone: bool = False  # known of, but not where it was: there is no content


def read_photos(paths: list[Path]) -> list[PhotoFile]:
    """Return the photos in the order given; InputError ``cannot-read`` when one is missing or unreadable."""
    photos: list[PhotoFile] = []
    for path in paths:
        try:
            if path.exists() and not path.is_file():  # a device or a pipe may never end
                raise OSError("it is no file")
            content = path.read_bytes()
        except OSError as error:
            raise InputError(
                "cannot-read",
                f"{path} can't be read: {error.strerror or error}.",
                where=str(path),
                likely="The name may be mistyped, or it may be a folder.",
                todo="Give the path of a JPEG, PNG or TIFF file.",
            ) from error
        digest = content_hash(content)
        same_name = sum(photo.name.partition("~")[0] == path.name for photo in photos)
        name = f"{path.name}~{same_name + 1}" if same_name else path.name
        if any(photo.sha256 == digest for photo in photos):
            raise InputError(
                "photo-twice",
                f"{path} has the same content as another photo given.",
                where=str(path),
                todo="Give each photo once: the same cards would be counted twice.",
            )
        photos.append(PhotoFile(name, digest, content, path))
    return photos
