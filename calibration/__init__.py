"""From a photograph to a metric plane: the reference card, the camera, the scale and their uncertainties."""
