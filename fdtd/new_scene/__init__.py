"""The first scene file of a room: a few questions, sensible places, a commented text. Nothing else imports this."""
