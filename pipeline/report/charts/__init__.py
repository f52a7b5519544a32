"""Charts: marks drawn by Altair and vl-convert, beside words that are text of the page.

One grammar everywhere, the balance line: zero ("even") in the middle, the sides at the two ends.
Diamond: estimate. Thick bar: 90 % interval. Open circles: single test days. Grey band: what the
test cannot tell apart, around the expected lead. Short upright marks: the review line. Trends use
the same marks along time. What a colour says, a shape or a place says as well.

A picture holds marks alone. Labels, sentences and the figures of an axis are HTML beside it, in
rows as high as those of the picture: they wrap, can be translated and are read aloud.
"""
