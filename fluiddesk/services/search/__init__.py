"""One box to find a machine, bottle, report, serial or remark by: an index in memory."""
