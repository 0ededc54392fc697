"""One statement made into its document: PDF, with the invoice inside when the site wants that."""

import hashlib
from dataclasses import dataclass

from csms.documents import typeset
from csms.documents.columns import DocumentSettings
from csms.documents.hybrid import hybrid
from csms.documents.invoice_xml import invoice_xml
from csms.documents.paper import paper, title
from csms.documents.sentence import voice_of
from csms.ledger.statement import Statement


@dataclass(frozen=True, slots=True)
class Made:
    """`invoice` None: the site wants none, or there is nothing to invoice. `hash`: SHA-256 of the PDF."""

    pdf: bytes
    invoice: bytes | None
    hash: str


def make(statement: Statement, settings: DocumentSettings) -> Made:
    """The document; the same statement and settings give the same bytes. Call it from a thread.

    InvalidInput when it cannot be made: a library is missing, a language has no catalogue, or the
    statement breaks a rule of EN 16931 while an electronic invoice is wanted.
    """
    voice = voice_of(statement)
    pdf = typeset.pdf(paper(statement, voice), statement.issued_on)
    invoice = None
    # A preview is no invoice, and an invoice has at least one line (BR-16).
    if settings.e_invoice and statement.number and statement.lines:
        invoice = invoice_xml(statement, voice)
        language = voice.words.language
        pdf = hybrid(
            pdf,
            invoice,
            title=f"{title(statement, voice)} {statement.number}",
            author=statement.issuer.name,
            language=f"{language.value}-{language.region}",
            issued_on=statement.issued_on,
        )
    return Made(pdf, invoice, hashlib.sha256(pdf).hexdigest())
