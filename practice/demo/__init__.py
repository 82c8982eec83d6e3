"""An invented practice: three horses' stories over three seasons, told through the services.

Every name and number is made up. Days are written as they are in the story and shifted as a whole,
so that the last of them lies a week or two before today (`calendar`).
"""
