"""The screen for the room: a page that shows a visit as it goes, and takes nothing from who looks at it."""
