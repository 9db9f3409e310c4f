/* screen.h - the daemon's status as one screen. */
#ifndef SLUICE_TOOLS_SCREEN_H
#define SLUICE_TOOLS_SCREEN_H

#include <cjson/cJSON.h>
#include <stdbool.h>
#include <stdint.h>

#include "sluice/page/page.h"

void screen_print(const cJSON *status, bool colour);

/* ---- its parts, for other screens ---------------------------------------------------------- */

int32_t screen_today(const cJSON *status); /* the day of local time there */
void screen_print_heading(struct page *page, const cJSON *status);
void screen_print_house(struct page *page, const cJSON *status);
void screen_print_orders_to_all(struct page *page, const cJSON *status);

#endif
