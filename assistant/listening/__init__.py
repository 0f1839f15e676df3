"""The live loop: sound as it comes in, turns of a conversation, answers spoken.

    source -> voice activity -> ends of speech -> utterance -> conversation -> mouth

``loop.listen`` is the whole of it in one function, over a microphone, a file or a pipe.
"""
