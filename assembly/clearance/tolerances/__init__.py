"""Machines as they may come out of the shop: every dimension anywhere within its tolerance."""
