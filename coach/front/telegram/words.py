"""What the bot says of itself. What it says of the trade comes from the rules."""

from __future__ import annotations

COMMANDS: dict[str, str] = {
    "tell": "tell me in your own words what goes wrong",
    "clear": "clear the water: what to take in, in which order",
    "count": "count what is lifted, bow and stern",
    "why": "why I ask, or how I came to what I said",
    "undo": "take back your last answer",
    "summary": "what I know of tonight, and what I make of it",
    "picture": "the set as a picture: from the side, from above",
    "card": "tonight's card, a page that needs no signal",
    "trip": "this trip so far, and one thing to do differently",
    "lesson": "learn: a few questions a day; also /lesson play, trips",
    "progress": "what you hold by now, and what the captain signed",
    "bells": "what will ring tonight, and when",
    "place": "where you lie, for tide and moon",
    "draft": "her draft, for the last time to leave",
    "battery": "a battery that is full now: amp-hours, kind",
    "name": "your name in this crew, and your side",
    "boat": "join phones of one boat by a code",
    "units": "feet or metres",
    "fresh": "start the night afresh",
    "export": "everything I keep of this boat and of your words",
    "forget": "erase your words",
    "help": "what you can send me",
}
"""The menu: names and what they do. A new one needs its line here and its function in `harbour.SAID`."""

BEGIN = "What goes wrong, or what do you plan? Say it in a sentence. Or let me ask:"
ASK_ME = "Ask me"

CLEAR = "Clear the water"
COUNT = "Count"
BOARD = [[CLEAR], [COUNT]]
BOARD_GROUP = [["/clear the water"], ["/count"]]

GREETING = (
    "This is the lamp coach, for dipping shrimp at night. Tell me in your own words what is wrong, or that"
    " you want to set up. Tap, type a digit, or use words: all are fine. /help says what else there is.\n"
    "I keep what you tell me until you send /forget. Safety, the law and your own judgement come first."
)
GREETING_GROUP = (
    "This is the lamp coach, for dipping shrimp at night. This chat is one boat: whoever writes here tells"
    " me about her. /tell and a sentence reaches me in any case; /name Maren bow lets me count you under"
    " that name. /help says what else there is. I keep what you tell me until you send /forget."
)
HELP = (
    "Say what you see in your own words, or answer by tapping, by a digit, or in words.\n"
    "Count: b3 s5, bow 2 nets, +1, j1 for a jump at the deep lamp; 'undo count' takes back.\n"
    "Tell a place, and I know tide and moon. What rings: /bells.\n"
)
PRIVATE = "This coach is for a crew of its own. Its captain can let you in; your number is {number}."
TOO_FAST = "That was faster than I can follow; some of it I did not take. Give me a minute."
TOO_LONG = "That is more than {limit} characters. Say it shorter; nothing of it was taken."
NOT_TEXT = "I read words and places, nothing else. What do you see?"
EDITED = "I keep the words as they first came. Send what is right as a new message."
FORWARDED = "I leave alone what others said elsewhere. Tell me in your own words."
NOTED = "Noted: {facts}."

PICTURES = {"side": "side", "from the side": "side", "above": "plan", "from above": "plan", "tide": "tide",
            "counts": "counts"}  # fmt: skip
PICTURE_MORE = {"side": "From the side", "above": "From above", "tide": "The tide", "counts": "The counts"}
PICTURE_HOW = "Send /picture, or /picture with side, above, tide or counts behind it."
PICTURE_NONE = "I know too little for it. Tell me, such as: 12 ft deep, both clipped at 4 ft."
TRIPS_ALL = "All trips"
TRIP_NONE = "Nothing is in the log of this trip yet."
NO_COMMAND = "I do not know that one. /help says what there is."
BROKEN = "Something is wrong inside the coach; what you sent changed nothing. Say it another way."
CLOSED = "That question is closed."
NOTHING_OPEN = "No question is open. Tell me what you see, what you catch, or what worries you."
TELL_WHAT = "Say it in one go: /tell was good till nine then it faded"

LESSON_HINT, LESSON_SHOW, LESSON_STOP, LESSON_MORE = "Hint", "Don't know", "Stop", "Another round"
ANSWERED = "You: {answer}"
TYPE_NUMBER = "Type the number, in {unit}."
ANOTHER_BOATER, SHOW_IT = "Another boater", "Show it"
LESSON_RESTS = "The lesson rests; /lesson goes on with it when there is time."
LESSON_ALONE = "Lessons go from one person to another: open a chat with me alone and send /lesson there."
LESSON_NOT_NOW = "Not now: see to what goes wrong first. When it is over, tell me: all safe."
SHEET = "The sheet, to print"
SIGN_HOW = "Something is ready to be signed. The captain looks, then sends: /progress sign and a name"
SIGN_NOTHING = "Nothing is ready to be signed, or all that is has been signed."
SIGNED = "Signed by {by}: {count}."

CARD_EMPTY = "Nothing counted yet tonight. Tap, or type b3 s5."
CARD_UNLIKE = "Counted in unlike measures: I add them up, but compare nothing."
NOTHING_TO_TAKE_BACK = "You have counted nothing that I could take back."
NO_SIDE = "Which side do you dip on? Send /name and your name and side, such as /name Maren bow."
FOUND_SHARE = "The {side} has {share} of {total} tonight: more than luck."
FOUND_DROP = "It dropped from {before} to {now} in 10 minutes: more than luck."
FOUND_KEEP = "The deep lamp has earned its place: leave it in."
SILENT = "Nothing was counted for a while, longer than chance explains. Has it stopped?"
FIND_OUT, STOPPED, NOT_COUNTING = "Find out why", "It has stopped", "We just don't count"
ALL_RIGHT = "All right."

NAME_HOW = "Send your name and your side, such as /name Maren bow. One word of letters, 20 at most."
NAMED = "{name} it is{side}."
NAME_COUNTS = "{name} is a word that counts. Choose another name."
NAME_TAKEN = "There is a {name} aboard already. Choose another name."
BOAT_CODE = (
    "On the other phone send, within half an hour:\n/boat {code}\nThen both are on one boat: one night, one"
    " tally, the same bells. /boat leave takes this phone off again."
)
BOAT_JOINED = (
    "This phone is on her now. What was told on this phone alone is not part of it; /boat leave brings it"
    " back."
)
BOAT_NEW = "Another phone has come aboard."
BOAT_LEFT = "This phone is on a boat of its own again."
BOAT_BAD = "That code is not known or no longer holds. Ask the other phone for a new one: /boat"
BOAT_GROUP = "A group is a boat already: whoever is in it is aboard."
BOAT_ALONE = "This phone is on a boat of its own."

PLACE_HOW = (
    "Share your location by the paperclip, or send /place and a tide station or degrees, such as"
    " /place Beaufort or /place 34.7 -76.7."
)
PLACE_SET = "Noted, rounded to about half a mile. The nearest tide station is {name}, {off} off."
PLACE_NEAR, PLACE_OFF = "less than a nautical mile", "{miles} nautical miles"
PLACE_WHICH = "{count} stations are called so. Which? More words narrow it down."
PLACE_FAR = " That is too far to go by; tell me high and low water yourself."
PLACE_BAD = "I know no tide station by that name, and it is not degrees. "
DRAFT_HOW = "How deep does she go? Such as /draft 1.5 for feet, or /draft 0.45 m."
DRAFT_SET = "Noted: she draws {depth}. With the tide and the depth known I ring before she would touch."
BATTERY_HOW = "Send amp-hours and kind of a battery that is full now, such as /battery 100 lead."
BATTERY_SET = "Noted: {ah} Ah, {kind}, full now. With the lamps known I ring before it is used up."
BELLS_HEAD = "Still to ring:"
BELLS_NONE = "Nothing is set to ring. Tide, depth and lamps told, I set the bells myself."
BELLS_SET = "I ring: {bells}."
BELL_NAMES = {
    "reclip": "clip again",
    "look": "look again",
    "deep": "deep lamp",
    "low": "low water",
    "high": "high water",
    "battery": "battery",
    "moon": "moonrise",
    "leave": "last time to leave",
}
BELL_DONE = "Seen to"
BELL_LATER = "I ring again at {time}"
BELL_GONE = "That bell is gone."
UNITS_HOW = "Send /units feet or /units metres."

FORGET_ASK = (
    "Erase everything that I keep of this chat: the night, the counts, the bells? It cannot be undone."
)
FORGET_ASK_ME = (
    "Others are on this boat. Erase your words, your name and your counts from her? What she knows by now"
    " (depths, tides, heights) stays for the others. /forget boat erases all of it for everybody."
)
FORGET_ASK_BOAT = "Erase everything of this boat, for everybody on her? It cannot be undone."
FORGET_YES, FORGET_NO = "Erase it", "Keep it"
FORGOTTEN = "Erased: nothing of it is kept."
KEPT = "Nothing was erased."
EXPORT_ABOUT = "What I keep of this boat, and of what you said."
LEARNED_ABOUT = "What you learned, as it is kept here."
