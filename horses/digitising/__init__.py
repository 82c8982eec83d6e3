"""Reading a curve off a photo of its tracing: numbers and images only, no Django.

`rectify` and `squares` map the photo onto the paper in mm, `trace` follows the pen line, `profile`
turns the line into half-widths or heights, `rendering` draws photos of known curves to test it all.
Points are (x, y) in pixels of the photo (x right, y down) or in mm on the paper; arrays are (n, 2).
"""
