"""The ledger: from energy and invoices to statements that can be proved.

`statement` is the document as values: everything a PDF, an XML or a spreadsheet shows, and nothing else.
`canonical` writes it as one text, which is what is stored and hashed.
"""
