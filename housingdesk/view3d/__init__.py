"""The 3D view: scene.py decides what is seen, canvas.py draws the difference."""
