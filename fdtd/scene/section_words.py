"""The tables of a scene file in words: what each is for, and what people call the things that it holds. As data.

Common usage of the trade and of homes.
"""

from __future__ import annotations

MEANINGS = {
    "air": "temperature and humidity",
    "room": "the plan and the height",
    "surfaces": "what floor, ceiling and walls are made of",
    "materials": "a material with its numbers",
    "patches": "part of a surface with another material, such as a door or a window",
    "blocks": "a solid box, such as a cupboard",
    "sheets": "a thin partition, such as a screen, which may have openings",
    "fills": "a soft body, such as a sofa",
    "sources": "a loudspeaker",
    "seats": "a listening place",
    "absorbers": "a unit in its place",
    "devices": "what an absorber does",
    "variants": "one of the states that are compared",
    "spots": "where a study may put units",
    "run": "how it is computed",
}
"""Table -> what an entry of it is."""

WORDS = {
    "sources": (
        "loudspeaker, speaker, sub, subwoofer, woofer, monitor, main, satellite, soundbar, driver, emitter, "
        "loudspeaker box, sound source, source"
    ),
    "seats": (
        "listener, listening position, listening place, listening point, listening seat, position, mic, microphone, "
        "receiver, measurement point, measurement position, measuring point, chair, armchair, person, people, "
        "audience, head, ear, sweet spot, observer, probe, sensor, stool"
    ),
    "absorbers": (
        "trap, bass trap, corner trap, unit, panel, acoustic panel, absorber panel, resonator, treatment, "
        "acoustic treatment, diffuser, cloud, foam"
    ),
    "patches": (
        "door, window, opening, doorway, carpet, rug, mat, curtain, drape, blind, glazing, covering, lining, tile, "
        "wall panel, finish"
    ),
    "fills": "sofa, couch, settee, bed, mattress, cushion, upholstery, bean bag, porous body, furniture",
    "blocks": (
        "furniture, chest, cupboard, cabinet, wardrobe, closet, table, desk, shelf, bookcase, bookshelf, column, "
        "pillar, chimney, stair, staircase, box, object, obstacle, solid, radiator, piano, fireplace, platform, beam"
    ),
    "sheets": (
        "partition, divider, room divider, screen, half wall, partition wall, inner wall, interior wall, wall, "
        "curtain, opening, shelf, shelf unit, baffle, door leaf, thin wall"
    ),
    "surfaces": "wall, floor, ceiling, boundary, boundaries, finish, lining",
    "materials": "material, build up, construction, absorption coefficient",
    "devices": "design, model, product, resonator",
    "room": "geometry, dimension, space, plan, floor plan, house, layout, shape, building, wall",
    "air": "environment, atmosphere, climate, medium, condition, temperature, humidity",
    "variants": "scenario, state, configuration, case, comparison, alternative, option",
    "spots": "candidate, placement, candidate place, candidate position, place, search, optimisation, optimization",
    "run": "simulation, setting, solver, computation, calculation, config, parameter, grid, mesh, numerics, option",
}
"""Table -> what people call what it holds, in the singular."""
