"""Bass in rooms, by finite differences in time.

How a scene file becomes a picture, package by package (imports go from right to left only):

    scene.toml
      scene     what the person wrote: frozen dataclasses, metres and SI units, every name resolved
      physics   formulas: air, admittance of surfaces, absorption
      grid      where: cell edges, cut cells, links and faces, from geometry alone
      model     scene + physics + grid -> the discrete problem, frozen arrays
      kernels   the inner loops, arrays and numbers only
      simulation     the problem in time -> transfer functions and pressure maps
      modes     the same problem as sparse matrices -> rigid eigenfrequencies and shapes
      results   the result file and the table for spreadsheets
      analysis  arrays in, figures of merit out
      workflow  check, run, modes: the verbs, for Python users and the command line alike
      show      drawings
      cli       the command line

Importing `fdtd` itself loads nothing heavy; import the part that you need.
"""

__version__ = "0.1.0"
