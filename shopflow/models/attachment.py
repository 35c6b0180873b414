"""Photos and documents kept with a job, or with one head on it."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from sqlalchemy import CheckConstraint, ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import Base, Id, Line, Moment, Name, UtcDateTime, Versioned
from shopflow.texts import gettext

if TYPE_CHECKING:
    from shopflow.models.job import Job, Visit
    from shopflow.models.person import User


class JobFile(Versioned, Base):
    """A photo or document; its bytes lie in the shop's folder under their SHA-256."""

    __tablename__ = "job_file"
    __table_args__ = (
        CheckConstraint("size > 0", name="not_empty"),
        CheckConstraint("(small_sha256 = '') = (width = 0)", name="small_of_a_picture"),
        CheckConstraint("(original_sha256 = '') = (original_size = 0)", name="original_size"),
    )

    id: Mapped[Id]
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), index=True)
    job_head_id: Mapped[int | None] = mapped_column(ForeignKey("job_head.id"), index=True)
    """The head it shows; None where it is of the job as a whole."""

    name: Mapped[Name]
    """As its sender called it; a file is never told by it."""

    caption: Mapped[Line]
    shown_to_customer: Mapped[bool] = mapped_column(default=False)
    media_type: Mapped[str] = mapped_column(String(60))
    sha256: Mapped[str] = mapped_column(String(64))
    small_sha256: Mapped[str] = mapped_column(String(64), default="")
    """The small form of a photo; empty for what is none."""

    original_sha256: Mapped[str] = mapped_column(String(64), default="")
    """A photo as it came, with what its camera wrote into it, the place among it: for the staff
    alone. Empty for what is no photo, and for photos of earlier versions."""

    original_size: Mapped[int] = mapped_column(default=0)
    size: Mapped[int]
    width: Mapped[int] = mapped_column(default=0)
    height: Mapped[int] = mapped_column(default=0)
    added_at: Mapped[Moment]
    added_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    taken_off_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    """Time of removal from the job's pages; the contents are kept."""

    job: Mapped[Job] = relationship(back_populates="files")
    job_head: Mapped[Visit | None] = relationship()
    added_by: Mapped[User | None] = relationship()

    @property
    def is_photo(self) -> bool:
        """True where the file can be shown as a picture."""
        return self.width > 0

    @property
    def is_scan(self) -> bool:
        """True where the file is a scan of a surface, as STL or PLY."""
        return self.media_type.startswith("model/")

    @property
    def title(self) -> str:
        """Its caption, or what else there is to call it."""
        return self.caption or (gettext("Photo") if self.is_photo else self.name)
