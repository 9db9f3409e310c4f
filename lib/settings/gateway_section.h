/* gateway_section.h - whom the meter is given to. */
#ifndef SLUICE_SETTINGS_GATEWAY_SECTION_H
#define SLUICE_SETTINGS_GATEWAY_SECTION_H

#include "read.h"

/* After the meters. Without the section there is no gateway; settings->gateway.enabled
 * tells. */
void gateway_read(const struct reader *reader, const struct node *root, struct settings *settings);

#endif
