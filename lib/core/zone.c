#include "core/zone.h"
