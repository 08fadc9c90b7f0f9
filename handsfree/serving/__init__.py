"""Pages for browsers on this machine or of the site: who may talk to a server, and what a page may do."""
