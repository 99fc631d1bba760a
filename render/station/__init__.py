"""The page at the bench: the shop's cases walked in a browser, served from this machine.

Pages are made here whole and work without script: forms, each answered with a redirect to how the
case then stands. Terminal and page share cases, and the words in which they are told. `door` lets
requests in or not, `keys` has the secrets for that, `seats` the walks that are under way, `sheets`
what stands on a page, `leaves` the templates, `turns` what a form does to a case, `routes` which
address is which, `server` the running of it.
"""
