"""A 3D scan of a back, from a file of triangles to sections and lines.

Pure geometry, without Django: `load` reads a stranger's file in a process of its own, `landmarks`
holds the marks and the scale they tell, `align` lays the back on its midline and level, `resample`
turns triangles into heights, `derive` reads sections and lines from the heights.

Axes once aligned: x toward the tail, y to the horse's right (off side), z up; origin on the skin of
the midline, level with the rear edge of the more rearward shoulder blade. Metres.
"""
