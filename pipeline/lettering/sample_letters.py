"""Names of scripts (ISO 15924), and a line of sample text in each."""

from __future__ import annotations

SCRIPT_NAMES: dict[str, str] = {
    "Latn": "Latin",
    "Grek": "Greek",
    "Cyrl": "Cyrillic",
    "Hebr": "Hebrew",
    "Arab": "Arabic",
    "Deva": "Devanagari",
    "Hani": "Chinese characters",
    "Hira": "Hiragana",
    "Kana": "Katakana",
    "Hang": "Korean",
}

SAMPLES: dict[str, str] = {
    "Latn": "Wren & Ashby 1893–2026",
    "Grek": "Ευθυμία Παπαδάκη",
    "Cyrl": "Жанна Щербакова",
    "Hebr": "מרדכי בן־גוריאלי",
    "Arab": "عبد الرحمن الزهراوي",
    "Deva": "अनिल शर्मा",
    "Hani": "高橋 美咲",
    "Hira": "さくら",
    "Kana": "サクラ",
    "Hang": "김서연",
}
"""A line of invented names in each script, as a specimen."""
