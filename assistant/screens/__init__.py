"""The wall screen: the bays and the bench on a terminal, in a browser, or as plain lines.

shop's journal -> live -> standing -> wall     (every bay, the pressing ones first)
typed, spoken  -> desk -> bench page           (what was heard, and the answer)
"""
