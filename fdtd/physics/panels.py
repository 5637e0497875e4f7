"""Passive build-ups with a resonance, in one place to import from."""

from fdtd.physics.helmholtz import HelmholtzResonator
from fdtd.physics.perforated import PerforatedPanel, SlottedPanel
from fdtd.physics.plate import Plate

__all__ = ["HelmholtzResonator", "PerforatedPanel", "Plate", "SlottedPanel"]
