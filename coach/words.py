"""The one line that every brief, debrief, report and page carries."""

CAUTION = (
    "This trains timing and words on the ground; it is no flight instruction, and its numbers come "
    "from a simple model. The airplane's own handbook, local rules and a licensed instructor come "
    "first."
)
