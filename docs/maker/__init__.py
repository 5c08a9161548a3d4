"""What renews the pages that are made from the code, and builds the site.

``python -m docs.maker`` renews them all; ``python -m docs.maker site`` builds the site too.
"""
