"""What the user wrote: frozen dataclasses in metres and SI units, and their reader."""
