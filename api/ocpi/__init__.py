"""Documents for partners, in the words of OCPI 2.2.1. `cdr`: the charge detail record of a session."""
