"""The letters by which a typeface is judged, script by script."""

from __future__ import annotations

ALPHABETS: dict[str, str] = {
    "Latn": "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789&",
    "Grek": "ΑΒΓΔΕΖΗΘΙΚΛΜΝΞΟΠΡΣΤΥΦΧΨΩαβγδεζηθικλμνξοπρςστυφχψω",
    "Cyrl": "АБВГДЕЖЗИЙКЛМНОПРСТУФХЦЧШЩЪЫЬЭЮЯабвгдежзийклмнопрстуфхцчшщъыьэюя",
    "Hebr": "אבגדהוזחטיךכלםמןנסעףפץצקרשת",
    "Arab": "ابتثجحخدذرزسشصضطظعغفقكلمنهوي",
    "Deva": "अआइईउऊएऐओऔकखगघचछजझटठडढणतथदधनपफबभमयरलवशषसह",
    "Hani": "一三川山本田村林森高橋鈴木渡邉齋藤龍國王李張陳劉黃美咲優愛翔",
    "Hira": "あいうえおかきくけこさしすせそたちつてと",
    "Kana": "アイウエオカキクケコサシスセソタチツテト",
    "Hang": "김이박최정강조윤장임한오서신권황안송류홍",
}
"""Script (ISO 15924) to letters. For Chinese, Japanese and Korean common characters of names, simple and dense."""
