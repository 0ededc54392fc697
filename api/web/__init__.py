"""The pages: made on the server, ours from the first to the last byte, alive where it helps.

A page works without script; a `<live-part>` shows what was true when it was loaded and, with
script, is replaced by what the page's event stream sends. Both come from the same template
in `templates/parts/`, so there is one truth about how a thing looks.

`door` signs people in and out; `desk` is what every page needs (who, form token, templates).
`site` and `access` are the pages; each has a pure file beside it that turns what the services
say into what the page shows (`site_view`, `access_view`). A form is a POST with the form token
of the sign-in, answered by 303 to a page that says what was done.
"""
