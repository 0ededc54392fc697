"""Frames of stations that could not be read, kept for a person to look at.

What cannot be read is neither lost nor does it end a connection: the frame is put aside with
the reason. Of each station the latest thousand are kept, each cut at 256 KiB. What was mended
meanwhile can be read once more (`csms.gateway.replay_service`).
"""
