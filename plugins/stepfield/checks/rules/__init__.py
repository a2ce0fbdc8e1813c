"""The rules, one module each. A module hands out ``RULES``; its docstring is the rule's manual page."""
