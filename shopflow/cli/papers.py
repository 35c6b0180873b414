"""The commands that write a shop's papers as PDF."""

from __future__ import annotations

import argparse
from collections.abc import Callable

from shopflow import issuing, papers, signing
from shopflow.cli.records import records, stays_of, write
from shopflow.config import FILES_FOLDER, default_data_folder, files_address
from shopflow.errors import NotFoundError
from shopflow.files import FileStore, store_for
from shopflow.services.billing import invoices, quotes
from shopflow.services.certificates import issue
from shopflow.services.counter import inspection_reports, work_orders
from shopflow.services.jobs import jobs
from shopflow.services.paperwork import bench_cards
from shopflow.services.paperwork import labels as labels
from shopflow.texts import gettext


def work_order(arguments: argparse.Namespace) -> int:
    """Write a job's work order, or its short form for the bench."""
    with records(arguments) as db:
        job = jobs.get(db, arguments.job)
        if arguments.short:
            card = bench_cards.bench_card(db, job)
            return write(arguments.out, papers.bench_card(card))
        order = work_orders.work_order(db, job, _store(arguments))
        return write(arguments.out, papers.work_order(order))


def _store(arguments: argparse.Namespace) -> FileStore:
    folder = (arguments.data or default_data_folder()) / FILES_FOLDER
    return store_for(folder, files_address())


def _sign(arguments: argparse.Namespace) -> issuing.Sign | None:
    return signing.signer(arguments.data or default_data_folder())


def inspection_report(arguments: argparse.Namespace) -> int:
    """Write a job's inspection report."""
    with records(arguments) as db:
        job = jobs.get(db, arguments.job)
        report = inspection_reports.inspection_report(db, job, _store(arguments))
        content = issuing.inspection_report(db, report, _sign(arguments))
        return write(arguments.out, content)


def tags(arguments: argparse.Namespace) -> int:
    """Write the labels of a job's heads, or of the one head named."""
    with records(arguments) as db:
        visits = stays_of(db, arguments.job)
        sheet = labels.sheet(
            db, visits, label=arguments.label, start=arguments.start, copies=arguments.copies
        )
        return write(arguments.out, papers.tags(sheet))


def quote(arguments: argparse.Namespace) -> int:
    """Write a job's latest quote, byte for byte as given."""
    with records(arguments) as db:
        sent = quotes.of_job(db, jobs.get(db, arguments.job))
        if not sent:
            raise NotFoundError(gettext("job {job} has no quote yet", job=arguments.job))
        return write(arguments.out, sent[-1].pdf)


def invoice(arguments: argparse.Namespace) -> int:
    """Write an issued invoice or credit note, byte for byte as issued."""
    with records(arguments) as db:
        return write(arguments.out, invoices.get(db, arguments.number).pdf)


def certificate(arguments: argparse.Namespace) -> int:
    """Write a job's latest issued certificate, byte for byte as issued."""
    with records(arguments) as db:
        job = jobs.get(db, arguments.job)
        if not job.certificates:
            raise NotFoundError(gettext("job {job} has no issued certificate", job=job.number))
        return write(arguments.out, issue.latest(job).pdf)


def hand_off(arguments: argparse.Namespace) -> int:
    """Write the hand-off sheets of a job's heads."""
    with records(arguments) as db:
        visits = stays_of(db, arguments.job)
        written = [visit for visit in visits if visit.hand_off]
        if not written:
            raise NotFoundError(gettext("{job} has no hand-off note yet", job=arguments.job))
        return write(arguments.out, issuing.hand_off(db, written, _sign(arguments)))


COMMANDS: dict[str, Callable[[argparse.Namespace], int]] = {
    "work-order": work_order,
    "inspection-report": inspection_report,
    "tags": tags,
    "quote": quote,
    "invoice": invoice,
    "certificate": certificate,
    "hand-off": hand_off,
}
