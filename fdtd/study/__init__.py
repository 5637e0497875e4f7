"""Studies over many designs: where units do most, where loudspeakers and seats belong, what openings change."""
