/* sense.h - what can be read and is still a slip: each said where it stands, as an error
 * where it can't be right, as a notice where it may be. */
#ifndef SLUICE_SETTINGS_SENSE_H
#define SLUICE_SETTINGS_SENSE_H

#include "read.h"

/* A peer's name or address; `port_key` is where its port belongs. */
void host_check(const struct reader *reader, const struct node *node, const char *host,
                const char *port_key);

/* A serial port: an absolute path, and one that is there on this machine. */
void port_check_path(const struct reader *reader, const struct node *node, const char *port);

/* Whether a meter's map suits its role and the site's phases; `node` is its map's. */
void map_check_role(const struct reader *reader, const struct node *node,
                    const struct meter_settings *meter, uint8_t phase_count);

/* A coil or register that a datasheet counts otherwise than the wire. */
void address_check_number(const struct reader *reader, const struct node *node, bool coil,
                          uint16_t address);

/* The unit ids of each bus: one device each. */
void units_check(const struct reader *reader, const struct node *root,
                 const struct settings *settings);

/* Prices that look like cents, or stand in each other's place. */
void tariff_check_prices(const struct reader *reader, const struct node *tariff_map,
                         const struct tariff *tariff);

/* The site's margin and quiet hours. */
void site_check_sense(const struct reader *reader, const struct node *site,
                      const struct rules_settings *rules);

/* A load's minimum on, and the heat-up times of its floors. */
void load_check_sense(const struct reader *reader, const struct node *map,
                      const struct load_settings *load);

/* Floors that a supply limit, a group's limit or `one_at_a_time` can never let run beside
 * each other for long enough. */
void floors_check_together(const struct reader *reader, const struct node *root,
                           const struct settings *settings);

#endif
