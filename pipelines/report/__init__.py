"""What a run hands out: the outgoing tables, workbook, job sheets and page, published as one act."""
