/* mqtt_section.c - what rows alone cannot say of the broker: names that a topic can
 * hold, and files that go together. */
#include "mqtt_section.h"

#include <string.h>

#include "sense.h"

static void check_word(const struct reader *reader, const struct node *map, const char *key,
                       const char *value)
{
    const struct node *node = node_child(map, key);
    if (node && !is_name(value))
        wrong_at(reader, node, "%s: up to 31 of a-z, 0-9 and hyphens, not \"%s\"", key,
                 QUOTED(value));
}

/* MQTT 3.1.1 section 3.1.3.1: what every broker takes. */
static void check_client_id(const struct reader *reader, const struct node *map, const char *id)
{
    const struct node *node = node_child(map, "client_id");
    if (node &&
        strspn(id, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789") != strlen(id))
        wrong_at(reader, node, "client_id: only letters and digits, not \"%s\"", QUOTED(id));
}

static void needs(const struct reader *reader, const struct node *map, const char *key,
                  const char *other)
{
    const struct node *node = node_child(map, key);
    if (node && !node_child(map, other))
        wrong_at_key(reader, node, "%s needs %s", key, other);
}

static void check_tls(const struct reader *reader, const struct node *map,
                      const struct mqtt_settings *mqtt)
{
    static const char *const files[] = {"ca_file", "certificate_file", "key_file"};
    for (int k = 0; k < 3 && !mqtt->tls; k++)
        if (node_child(map, files[k]))
            wrong_at_key(reader, node_child(map, files[k]), "%s goes only with tls: yes", files[k]);
    needs(reader, map, "certificate_file", "key_file");
    needs(reader, map, "key_file", "certificate_file");
}

void mqtt_read(const struct reader *reader, const struct node *root, struct settings *settings)
{
    struct node *map = node_child(root, "mqtt");
    struct mqtt_settings *mqtt = &settings->mqtt;
    const struct target targets[] = {{&mqtt_setting_rows, mqtt}};
    int before = reader->troubles->count;
    mqtt->enabled = map != NULL;
    if (!map || !want_section(reader, root, "mqtt"))
        return;
    read_section(reader, "mqtt", map, targets, 1, NULL);
    if (reader->troubles->count > before)
        return;
    host_check(reader, node_child(map, "host"), mqtt->host, "port");
    check_word(reader, map, "domain", mqtt->domain);
    check_word(reader, map, "device", mqtt->device);
    check_client_id(reader, map, mqtt->client_id);
    needs(reader, map, "password_file", "user");
    check_tls(reader, map, mqtt);
}
