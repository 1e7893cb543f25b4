"""From cut file to finished piece: boards, pockets, resin, thickness, time."""
