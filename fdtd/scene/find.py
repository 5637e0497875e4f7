"""A variant of a scene by its name, or the one that shows most."""

from __future__ import annotations

from fdtd.errors import OptionError
from fdtd.scene.schema import Scene, Variant


def variant_number(scene: Scene, name: str) -> int:
    """Index of the variant called `name`; raises OptionError if there is none."""
    names = [variant.name for variant in scene.variants]
    if name not in names:
        raise OptionError(f"--variant: found '{name}', expected one of: {', '.join(names)}.")
    return names.index(name)


def chosen_variant(scene: Scene, name: str | None) -> Variant:
    """The variant called `name`, the first if None; raises OptionError if there is none."""
    return scene.variants[0 if name is None else variant_number(scene, name)]


def drawn_variant(scene: Scene, name: str | None) -> int:
    """Index of the variant called `name`, of the fullest if None; raises OptionError if there is none."""
    return fullest_variant(scene) if name is None else variant_number(scene, name)


def fullest_variant(scene: Scene) -> int:
    """Index of the first variant with the most objects, so that a drawing leaves nothing out."""

    def count(variant: Variant) -> int:
        kinds = (variant.patches, variant.blocks, variant.thin_partitions, variant.porous_volumes, variant.absorbers)
        return sum(len(kind) for kind in kinds)

    return max(range(len(scene.variants)), key=lambda i: count(scene.variants[i]))
