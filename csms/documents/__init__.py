"""Documents: an issued statement on paper, as an electronic invoice, and as rows for the rent ledger.

Everything shown comes from one frozen `ledger.statement.Statement`; nothing is worked out anew, so a
document cannot say what the books do not. `words` (catalogues) and `figures` (numbers and dates) are
the six languages. `paper` puts the parts together as plain data: `charges` (lines, account), `usage`
(chart, sessions), `reasons` (prices, estimates, how it adds up); `typeset` has typst set them by
`statement.typ` as PDF/A-3b, with the data as JSON and never as markup.

`invoice_rules` are EN 16931's arithmetic on exact numbers, `invoice_xml` writes the invoice,
`hybrid` puts it into the PDF. `rent_ledger` is the table by the site's own columns (`columns`),
`spreadsheet` writes it. `service` makes the documents of a run two at a time, each its own commit,
so that a run that was killed goes on where it was. The same statement gives the same bytes.

The libraries are the extra `statements`; they are imported when used (`extra`).
"""
