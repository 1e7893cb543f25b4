"""The texts of the English check sheet that clients have always seen: sheets sent with these texts come back, so the
reader of returned sheets has to know of any change."""

SHEET, SIGN_SHEET, ORDER_SHEET, ROWS_SHEET = "Check", "Sign-off", "Whole order", "Rows of the list"
ROW, CELL, TEXT, PIECES, STATE = "Row", "Cell", "As it will be cut", "Pieces", "State"
FOUND, TO_DO, QUESTION = "What was found", "What to do", "For the client"
ANSWER, CHANGE_TO = "Your answer", "Change to"
RAW, SIGNED, FINGERPRINT, CUT_FILE, CODES = "As the list has it", "Signed so far", "Fingerprint", "Cut file", "Codes"
ORDER_CODE, TITLE, CLIENT, REVISION, ORDER_HASH = "Order code", "Order", "Client", "Revision", "Order file"
BY, ON, REMARKS = "Your name", "Date", "Remarks"
