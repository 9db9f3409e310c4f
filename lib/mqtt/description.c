/* description.c - the device in JSON.
 *
 * Homie 5, "Device description": everything that a controller must know before the
 * first value comes. What equals the convention's default is left out. A node is each
 * distinct `node` of the properties, in the order in which they first appear. */
#include "mqtt/description.h"

#include <cjson/cJSON.h>
#include <string.h>

#include "mqtt/payload.h"

enum { DESCRIPTION_MOST = MQTT_PACKET_MAX };

/* cJSON writes numbers with 15 digits at least. */
static const double VERSION_MAX = 999999999999998.0;

bool description_id_ok(const char *id)
{
    return id[0] && id[strspn(id, "abcdefghijklmnopqrstuvwxyz0123456789-")] == '\0';
}

static bool same_place(const struct mqtt_property *a, const struct mqtt_property *b)
{
    return strcmp(a->node, b->node) == 0 && strcmp(a->id, b->id) == 0;
}

static bool property_ok(const struct mqtt_property properties[], int index, struct trouble *trouble)
{
    const struct mqtt_property *property = &properties[index];
    if (!description_id_ok(property->node) || !description_id_ok(property->id))
        return trouble_set(trouble, "", "ids of a-z, 0-9 and hyphen expected");
    for (int k = 0; k < index; k++)
        if (same_place(&properties[k], property))
            return trouble_set(trouble, "", "it is there twice");
    return payload_format_ok(property, trouble);
}

bool description_ok(const struct mqtt_property properties[], int count, struct trouble *trouble)
{
    for (int i = 0; i < count; i++)
        if (!property_ok(properties, i, trouble))
            return trouble_set(trouble, "", "property %s/%s: %s", properties[i].node,
                               properties[i].id, trouble->text);
    return true;
}

static void add_text(cJSON *object, const char *key, const char *text)
{
    if (text[0])
        cJSON_AddStringToObject(object, key, text);
}

static void add_property(cJSON *node, const struct mqtt_property *property)
{
    cJSON *object = cJSON_AddObjectToObject(node, property->id);
    add_text(object, "name", property->name);
    add_text(object, "datatype", payload_datatype(property->datatype));
    add_text(object, "format", property->format);
    add_text(object, "unit", property->unit);
    if (property->settable)
        cJSON_AddTrueToObject(object, "settable");
}

static cJSON *properties_of(cJSON *nodes, const struct mqtt_property *property)
{
    cJSON *node = cJSON_GetObjectItemCaseSensitive(nodes, property->node);
    if (node)
        return cJSON_GetObjectItemCaseSensitive(node, "properties");
    node = cJSON_AddObjectToObject(nodes, property->node);
    add_text(node, "name", property->node_name);
    return cJSON_AddObjectToObject(node, "properties");
}

char *description_write(const char *home_name, const struct mqtt_property properties[], int count,
                        int64_t version)
{
    cJSON *device = cJSON_CreateObject();
    add_text(device, "homie", "5.0");
    cJSON_AddNumberToObject(device, "version", (double)version);
    add_text(device, "name", home_name);
    cJSON *nodes = cJSON_AddObjectToObject(device, "nodes");
    for (int i = 0; i < count; i++)
        add_property(properties_of(nodes, &properties[i]), &properties[i]);
    char *json = cJSON_PrintUnformatted(device);
    cJSON_Delete(device);
    return json;
}

/* What is larger than any of ours is none of ours. */
static cJSON *parse(const void *json, size_t length)
{
    return length <= DESCRIPTION_MOST ? cJSON_ParseWithLength(json, length) : NULL;
}

static bool is_id(const char *text)
{
    return text && strlen(text) < MQTT_ID_MAX && description_id_ok(text);
}

void description_each(const void *json, size_t length,
                      void (*each)(void *context, const char *node, const char *id, bool settable),
                      void *context)
{
    cJSON *device = parse(json, length);
    const cJSON *node, *property;
    cJSON_ArrayForEach(node, cJSON_GetObjectItemCaseSensitive(device, "nodes"))
    {
        cJSON_ArrayForEach(property, cJSON_GetObjectItemCaseSensitive(node, "properties"))
        {
            if (is_id(node->string) && is_id(property->string))
                each(context, node->string, property->string,
                     cJSON_IsTrue(cJSON_GetObjectItemCaseSensitive(property, "settable")));
        }
    }
    cJSON_Delete(device);
}

int64_t description_version(const void *json, size_t length)
{
    cJSON *device = parse(json, length);
    const cJSON *version = cJSON_GetObjectItemCaseSensitive(device, "version");
    double number = cJSON_IsNumber(version) ? version->valuedouble : 0;
    cJSON_Delete(device);
    return number >= 1 && number <= VERSION_MAX ? (int64_t)number : 0;
}
