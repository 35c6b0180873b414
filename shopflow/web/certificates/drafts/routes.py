"""Drafts of flow certificates: looked over, changed, checked and issued."""

from __future__ import annotations

from flask import Blueprint, Response, flash, redirect, url_for
from flask.typing import ResponseReturnValue

from shopflow import issuing, papers, signing
from shopflow.models import CertificateDraft
from shopflow.papers.letters import wrong_letters
from shopflow.services.certificates import doubts, drafts, tested_ports
from shopflow.texts import gettext
from shopflow.web.auth import actor, signed_in
from shopflow.web.certificates.drafts.forms import CheckForm, CorrectionForm, DraftForm, check_form
from shopflow.web.db import db, edited_from, only_reading
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.signature import folder, sign

blueprint = Blueprint("drafts", __name__, url_prefix="/certificate-drafts")


@blueprint.get("/<int:draft_id>")
def draft(draft_id: int) -> ResponseReturnValue:
    """One draft: its contents, its state, and the next action."""
    row = drafts.get(db(), draft_id)
    return _page(row, check_form(row, drafts.doubts_of(db(), row)))


@blueprint.get("/<int:draft_id>.pdf")
def preview(draft_id: int) -> Response:
    """The certificate as it would be, marked as a draft on every page."""
    row = drafts.get(db(), draft_id)
    content = papers.flow_certificate(drafts.stated(db(), row), draft=True)
    headers = {"Content-Disposition": f'inline; filename="draft-{draft_id}.pdf"'}
    return Response(content, mimetype="application/pdf", headers=headers)


@blueprint.route("/<int:draft_id>/change", methods=["GET", "POST"])
def change(draft_id: int) -> ResponseReturnValue:
    """Change a draft, which cancels its check."""
    row = drafts.get(db(), draft_id)
    visit = row.job_head
    form = (CorrectionForm if row.replaces else DraftForm).of(visit, row)
    if form.validate_on_submit():
        with faults_shown(form, row):
            drafts.rewrite(db(), actor(), row, form.chosen(visit), form.texts)
            flash(gettext("The draft is saved. It must be checked before it is issued."))
            return redirect(url_for("drafts.draft", draft_id=draft_id))
    return form_page("certificates/new.html", form, visit=visit, replaces=row.replaces, draft=row)


@blueprint.post("/<int:draft_id>/check")
def check(draft_id: int) -> ResponseReturnValue:
    """Sign that the draft was checked as it stands."""
    row = drafts.get(db(), draft_id)
    doubtful = drafts.doubts_of(db(), row)
    form = check_form(row, doubtful)
    if form.validate_on_submit():
        edited_from(row, form.version.data)
        answers = {doubt: form[doubts.key(doubt)].data or "" for doubt in doubtful}
        with faults_shown(form, row):
            drafts.check(db(), actor(), row, form.statement.data or "", answers)
            flash(gettext("The draft is checked. It can be issued now."))
            return redirect(url_for("drafts.draft", draft_id=draft_id))
    return _page(row, form)


@blueprint.post("/<int:draft_id>/issue")
def issue(draft_id: int) -> ResponseReturnValue:
    """Issue the certificate: its number is taken, and it never changes again."""
    row = drafts.get(db(), draft_id)
    form = CheckForm()
    if form.validate_on_submit():
        edited_from(row, form.version.data)
        with faults_shown(form, row):
            by, key = actor(), sign()
            with only_reading():
                drawn = issuing.draw_certificate(db(), by, row, key)
            issued = issuing.issue_certificate(db(), by, row, key, drawn)
            flash(
                gettext(
                    "Certificate {issued} is issued. It can no longer change.", issued=issued.title
                )
            )
            return redirect(
                url_for("certificates.certificate", number=issued.number, revision=issued.revision)
            )
    return _page(row, form)


@blueprint.post("/<int:draft_id>/discard")
def discard(draft_id: int) -> ResponseReturnValue:
    """Discard the draft."""
    row = drafts.get(db(), draft_id)
    tag = row.job_head.tag
    drafts.discard(db(), actor(), row)
    flash(gettext("The draft is discarded."))
    return redirect(url_for("jobs.visit", tag=tag))


def _page(row: CertificateDraft, form: CheckForm) -> ResponseReturnValue:
    return form_page(
        "drafts/draft.html",
        form,
        draft=row,
        visit=row.job_head,
        identified=row.is_identified,
        doubtful=[doubts.key(doubt) for doubt in drafts.doubts_of(db(), row)],
        wrong=wrong_letters(drafts.stated(db(), row)) if row.sessions else [],
        is_sample=tested_ports.is_sample(row.job_head, [link.session for link in row.sessions]),
        own=row.written_by_id == signed_in().id,
        stands=drafts.stands_as_checked(db(), row) if row.checked_at else True,
        signs=signing.has_key(folder()),
    )
