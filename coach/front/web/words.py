"""What the web page says of itself. What it says of the trade comes from the rules."""

from __future__ import annotations

COMMANDS = {
    "why": "Why?",
    "undo": "Back",
    "clear": "Clear the water",
    "summary": "Summary",
    "new": "A new night",
    "forget": "Forget everything",
    "metric": "Metres",
    "us units": "Feet",
}
"""The commands of the core that the page has buttons for, and what stands in the log for them."""

DONT_KNOW = "Don't know"
CLOSED = "That question is closed; another one is open now. Nothing was taken."
CHANGED = (
    "Another question is open by now, and this does not say by itself what it means."
    " Nothing was taken: send it again if it fits."
)
NO_SUCH = "There is nothing of that kind any more. Nothing was taken."
NO_SIDE = "Which side? Say it with bow or stern, such as b3 s5."
NOTHING_TO_TAKE_BACK = "Nothing is counted that could be taken back."
TAKEN_BACK = "Taken back."
UNLIKE = "Counted in unlike measures: they are added up, but nothing is compared."
FOUND = {
    "share": "The {side} has {share:.0%} of {total}: more than luck.",
    "drop": "It dropped from {before:.0f} to {now:.0f} in 10 minutes: more than luck.",
    "keep": "The deep lamp has earned its place: leave it in.",
}
SILENT = "Nothing was counted for a while, longer than chance explains. Has it stopped?"
SILENT_ANSWERS = ("It has stopped", "We just don't count")
SIDES = {"bow": "bow", "stern": "stern", "deep": "jumps", "": "crew"}
COUNTED = "Counted"
SEEN_TO = "Seen to."
RINGS_AGAIN = "It rings again at {time}."

PLACE_HOW = "Write the name or the number of a tide station, such as Beaufort, Duke Marine Lab or 8656483."
PLACE_SET = (
    "Noted, rounded to about half a mile. The nearest tide station is {name}, {off:.0f} nautical miles off."
)
PLACE_FAR = " That is too far to go by; tell high and low water yourself."
PLACE_BAD = "Not one station alone is called that. Write the number of one: {some}."
DRAFT_HOW = "How deep does she go? Write feet, such as 1.5, or metres with an m."
DRAFT_SET = "Noted: she draws {depth}. With tide and depth known it rings before she would touch."
BATTERY_HOW = "Write the amp-hours and kind of a battery that is full now, such as 100 lead."
BATTERY_SET = "Noted: {ah:g} Ah, {kind}, full now. With the lamps known it rings before it is used up."

LESSON_RESTS = "The lesson rests; it goes on under More when there is time."
LESSON_NOT_NOW = "Not now: see to what goes wrong first. When it is over, tell the coach: all safe."
SIGN_HOW = "The captain looks, then writes a name of 60 characters at most."
SIGN_NOTHING = "Nothing is ready to be signed, or all that is has been signed."
SIGNED = "Signed by {by}: {count}."

WELCOME = (
    "This is the lamp coach, for dipping shrimp at night. Write in your own words what is wrong, such as"
    " “was good till nine then it faded”, or that you want to set up. What you tell is kept in one file on"
    " the machine that runs the coach, until you have it forgotten. Safety, the law and your own judgement"
    " come first."
)
