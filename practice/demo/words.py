"""Words from which names of invented horses, people and places are put together."""

COLOURS = ("Ash", "Amber", "Bramble", "Cinder", "Copper", "Dun", "Flint", "Hazel", "Pewter", "Rust")
THINGS = ("Anvil", "Bellows", "Buckle", "Candle", "Ferry", "Kettle", "Lantern", "Plough", "Thimble",
          "Whistle")  # fmt: skip
GIVEN = ("Aldith", "Bram", "Corin", "Delphie", "Edric", "Fenna", "Gorlan", "Hesper", "Idony",
         "Jory")  # fmt: skip
FAMILY = ("Ashgrove", "Barrowby", "Coldwell", "Dunmarsh", "Elverton", "Fairholt", "Grimsedge",
          "Harrowmere")  # fmt: skip
LANDS = ("Bottom", "Flats", "Hollow", "Meadow", "Ridge", "Spring")
