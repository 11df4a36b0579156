"""Camera values to tristimulus values: the model of the camera, its fit on the chart, its uncertainty."""
