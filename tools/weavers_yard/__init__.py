"""Weavers' Yard, an invented site: an old mill with 48 flats, a courtyard garage, a bakery's vans, and
visitors.

    site        the supply, its boards, 24 bays, who may charge where, tariffs: plain description
    people      flats, vans and visitors, their cards and cars
    load        what the common parts of the mill draw (demandlib's household profile, scaled)
    arrivals    when cars and vans come and go and what they need (champpy's mobility model)
    scenario    which car comes when to which bay with which card
    play        plays a scenario on simulated stations

Everything random has a seed; equal seeds give equal days. People, vehicles, makes and prices are made up.
"""
