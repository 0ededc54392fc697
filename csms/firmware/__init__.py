"""Firmware of stations, and the logs that they send us.

An `image` is a file with its checksum and, where stations check it, a signature. A `campaign` brings it
to many stations in waves: a few first (canaries), then more, only stations where nobody charges,
only in its hours, and it stops by itself when too many fail. `waves` decides who is next, `update` is
the life of one station's update as a table. `campaign_service` carries it out and goes on after a
restart, since all of it is on disk.

A station is taken out of use before it is updated and put back after, so that nobody plugs in
meanwhile. Stations fetch images and send logs by HTTP, under addresses that cannot be guessed
(`tickets`); `file_service` keeps the files and watches their size. FTP is not offered.
"""
