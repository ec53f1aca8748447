"""Pictures: cloth, thread chart, board, contact sheet, wanted motif, terminal."""
