"""What partners are told of a site's place and of who runs it: the words of OCPI 2.2.1's CdrLocation."""
