"""Display meshes; the only package that imports pyvista."""
