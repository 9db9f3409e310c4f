/* order_file.h - people's orders in a small file beside the ledger, so that no damage to the
 * ledger makes a load start that someone has inhibited. */
#ifndef SLUICE_LEDGER_ORDER_FILE_H
#define SLUICE_LEDGER_ORDER_FILE_H

#include "ledger/ledger.h"

/* Whole or not at all, and on disk when it returns true. `path`: the ledger's. */
bool order_file_write(const char *path, const char *text);
bool order_file_read(const char *path, char text[static LEDGER_ORDERS_MAX]);

#endif
