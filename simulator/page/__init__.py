"""The local page: a question asked in the browser, answered by the same code as the commands.

`question` reads what is asked, `places` holds the weather, `growing` grows it fast, `answers`
turns it into sentences, numbers and rows of a picture, `server` serves it on loopback.
"""
