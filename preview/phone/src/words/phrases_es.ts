// Las frases del núcleo, por su nombre. {algo} es un argumento; [...] sobra cuando falta el suyo.
// Lo que no está aquí se muestra en inglés, tal como lo dice el núcleo. NOMBRE.ARGUMENTO.one vale en lugar
// de NOMBRE cuando ese número es uno (las categorías de CLDR, que dice el núcleo).
export const phrases_es: Record<string, string> = {
  "since.passed-on": "[{why}; ]pasado a otros {age}[, ya en {count} listas][: {reason}]",
  "since.left-open": "[{why}; ]quedó pendiente {age}[, ya en {count} listas][: {reason}]",
  "age.now": "ahora mismo",
  "age.minutes": "hace {count} min",
  "age.hours": "hace {count} h",
  "age.day": "hace 1 día",
  "age.days": "hace {count} días",
  "age.week": "hace 1 semana",
  "age.weeks": "hace {count} semanas",

  "zone.why":
    "aquí cayeron {fallen}[ de {machines}][, había {before} de antes]; {load}, limpio es {clean}[. La capa se acerca al límite de limpieza de {limit}]",
  "zone.heap-vac": "{zone}: junta el montón ({volume}) y luego aspira",
  "zone.heap-sweep": "{zone}: junta el montón ({volume}) y luego barre",
  "zone.clean": "{zone}: limpiar",
  "zone.vac": "{zone}: aspirar",
  "zone.sweep": "{zone}: barrer",
  "zone.brush": "{zone}: cepillar",
  "zone.wipe": "{zone}: pasar un paño",
  "zone.open-floor": "Suelo libre",
  "zone.metal":
    "Aquí hay virutas de metal: deja que se enfríen, cepíllalas a la lata de metal y no las mezcles con polvo, aspiradores ni extracción de madera.",
  "zone.machine-off": "Máquina apagada y desenchufada o bloqueada antes de meter la mano.",
  "zone.high-mask": "Mascarilla y gafas: el polvo te cae encima.",
  "zone.high-step": "Súbete a un escalón hecho para eso, con la máquina apagada.",

  "reset.title": "{machine}: dejar como estaba",
  "reset.why": "Se usó {minutes} en esta sesión",
  "bin.why-full":
    "Lleno cerca del {share} tras esta sesión; vacíalo al {empty_at}, antes de que se atasque",
  "bin.why-look": "Entraron {volume} y nadie ha anotado cuánto había",
  "bin.lift-scoop":
    "Pesa ahora unos {mass}: lo levantan {people} personas, y antes se saca una parte con pala.",
  "bin.lift": "Pesa ahora unos {mass}[: lo levantan {people} personas].",
  "filter.why": "Tiene {dust} de polvo fino desde la última limpieza; la pide con {clean_at}",
  "air.why":
    "Hay {concentration} mg/m³ de polvo fino en el aire; el 99 % se ha ido en {minutes}",
  "common.why":
    "Esta sesión soltó {dust} de polvo fino que se posa en todas partes; la mayor parte del taller está aquí",

  "room.too-long": "{minutes} sería demasiado para el tiempo que hay",
  "room.needs": "antes necesita «{title}», y eso se pasa a otros",
  "room.chain": "con lo que necesita antes, {minutes} sería demasiado para el tiempo que hay",
  "room.tool": "{minutes} con {tool} no caben; {why}",
  "room.people": "{minutes} para {people} personas no caben; {why}",
  "room.time": "{minutes} no caben; {why}",
  "room.no-tool": "no funciona {tool}",
  "room.safety-first": "lo que es de seguridad va primero",
  "room.least": "es lo que menos pesa por minuto",
  "room.others": "lo demás pesa más en conjunto",
  "minutes.one": "1 minuto",
  "minutes.many": "{count} minutos",
  "sharing.none": "Esta vez no hay depósitos, filtros ni repisas: a nadie le toca lo más sucio.",
  "sharing.one": "Lo más sucio tocó a una sola parte: turnaos de vez en cuando.",
  "sharing.spread": "Las tareas sucias están repartidas en {count} partes. Cambiadlas si queréis.",
  "sharing.mixed":
    "Las tareas sucias están repartidas en {count} partes, y ninguna tiene solo de esas. Cambiadlas si queréis.",

  "caution.layer":
    "{area} tienen más polvo que el límite de limpieza de {limit}. El polvo arde y puede explotar: sin chispas, sin llamas, sin soplar. Limpia ahí primero y avisa a quien coordina.",
  "caution.sparks-in":
    "Chispas de {machine} entraron en una extracción con polvo de madera. Apágala, mira y huele si hay calor en sus depósitos y avisa a quien coordina antes de que nadie se vaya.",
  "caution.sparks":
    "Que no lleguen chispas de metal al polvo ni a la extracción de madera; pueden arder sin llama una hora.",
  "caution.mask":
    "Mascarilla puesta al limpiar, al menos los próximos {minutes}: el aire tiene {concentration} mg/m³ de polvo de madera, por encima de 1 mg/m³, el límite que recomienda NIOSH.",
  "caution.mask-stock":
    "Mascarilla puesta al limpiar: el polvo de este material mejor no respirarlo nada.",
  "caution.vac-first":
    "Aspirador antes que escoba, escoba antes que aire: nada de aire comprimido sobre polvo y nunca hacia personas (29 CFR 1910.242(b)).",
  "caution.local-rules":
    "Las normas locales, los manuales de las máquinas y las personas formadas van antes que esta lista. ¿Dudas? Déjalo y pásalo a otros.",
  "note.slow-air":
    "{machine} tuvo solo {speed} en su ramal ({transport} arrastra la viruta): con menos compuertas abiertas habría recogido más.",
  "note.choked": "El depósito de {machine} estaba tan lleno que aspiraba cerca del {share}.",
  "note.ran-out": "{machine} consta como fuera de servicio: di a quien coordina cómo fue.",
  "note.half-full": "Se toma por medio lleno, pues nadie ha anotado otra cosa: {bins}.",
  "note.waits": "1 tarea anterior espera a la próxima lista o a quien cierre.",
  "note.wait": "{count} tareas anteriores esperan a la próxima lista o a quien cierre.",

  "lock-up.left-open": "{gate} (quedó abierta)",
  "lock-up.rags": "Hoy se usaron trapos con aceite.",
  "lock-up.sparks": "Hoy saltaron chispas de metal.",
  "lock-up.not-possible": "Si hoy no es posible: avisa a quien coordina antes de irte.",
  "lock-up.fire":
    "Humo, brasa o un depósito caliente: no lo abras, no lo muevas. Todos fuera, y llama a los bomberos desde la calle. Nunca dejes polvo caliente.",
  "lock-up.alone":
    "A solas en el edificio: ni escaleras, ni bolsas pesadas, ni máquinas. Pásalo a otros.",
  "lock-up.explode":
    "El polvo de madera arde y, en el aire, puede explotar: sin chispas, sin llamas, sin soplar.",
  "lock-up.local-rules":
    "Las normas locales, los manuales de las máquinas y las personas formadas van antes que esta lista. ¿Dudas? Déjalo y avisa a quien coordina.",
  "lock-up.out": "{machine} está fuera de servicio: ¿parada suelta, etiqueta puesta?",

  "day.today": "hoy",
  "day.yesterday": "ayer",
  "day.tomorrow": "mañana",
  "day.monday": "lunes",
  "day.tuesday": "martes",
  "day.wednesday": "miércoles",
  "day.thursday": "jueves",
  "day.friday": "viernes",
  "day.saturday": "sábado",
  "day.sunday": "domingo",
  "day.on": "el {day}",
  "bin.nobody": "nadie ha mirado todavía",
  "bin.nobody-into": "nadie ha mirado dentro todavía",
  "bin.perhaps-emptied":
    "{evidence}; debería haber caído más de lo que cabe, así que quizá alguien lo vació",
  "bin.room-emptied": "visto con sitio, luego vaciado {day}",
  "bin.half-emptied": "visto por la mitad, luego vaciado {day}",
  "bin.full-emptied": "visto lleno, luego vaciado {day}",
  "bin.weak-emptied": "aspiraba poco, luego vaciado {day}",
  "bin.seen-room": "visto con sitio {day}",
  "bin.seen-half": "visto por la mitad {day}",
  "bin.seen-full": "visto lleno {day}",
  "bin.seen-weak": "aspiraba poco {day}",
  "bin.emptied": "vaciado {day}",
  "bin.fast":
    "se llena unas {factor} veces más deprisa de lo que sugieren sus máquinas; la previsión ya lo cuenta",
  "bin.slow":
    "se llena cerca del {share} del ritmo que sugieren sus máquinas; la previsión ya lo cuenta",
  "chance.least": "menos de 1 entre 20",
  "chance.most": "más de 19 entre 20",
  "chance.tenths": "{tenths} entre 10",
  "forecast.look": "no se puede decir hasta que alguien mire",
  "forecast.not-due": "no hará falta en los próximos {days} días",
  "forecast.not-due.days.one": "no hará falta en el próximo día",
  "forecast.due-now-not-full": "toca ya; no se llenará en los próximos {days} días",
  "forecast.due-now-not-full.days.one": "toca ya; no se llenará en el próximo día",
  "forecast.due-not-full": "toca antes de {day}; no se llenará en los próximos {days} días",
  "forecast.due-not-full.days.one": "toca antes de {day}; no se llenará en el próximo día",
  "forecast.full-now": "lleno ahora ({chance})",
  "forecast.perhaps-now": "probablemente lleno ahora ({chance}[; 9 entre 10 para {nine}])",
  "forecast.due-now-full": "toca ya, lleno para {full} (9 entre 10)",
  "forecast.due-full": "toca antes de {day}, lleno para {full} (9 entre 10)",
  "forecast.due-now-perhaps": "toca ya, probablemente lleno para {full}[ (9 entre 10 para {nine})]",
  "forecast.due-perhaps":
    "toca antes de {day}, probablemente lleno para {full}[ (9 entre 10 para {nine})]",
  "round.full": "lleno con una probabilidad de {chance}",
  "round.draws-badly": "cerca del {share}; aspira mal a partir del {empty_at}",
  "round.before-next": "probablemente lleno para {day}, antes de la próxima ronda",
  "round.too-heavy":
    "Aun así pesa demasiado: saca antes una parte con pala o trae un carro. Nadie lo levanta a solas.",
  "round.people": "Lo levantan {people} personas, unos {mass}.",
  "round.heat": "Puede haber entrado metal o chispas: comprueba que no hay calor antes de moverlo.",
  "round.mask":
    "Gafas y mascarilla ajustada antes de abrir nada, y hasta que el polvo se haya posado.",
  "round.lock-out":
    "Apaga la máquina y su extracción, espera a que paren, y desenchúfalas o bloquéalas antes de meter la mano.",
  "round.feel":
    "Toca antes cada depósito por fuera. Si está caliente o huele a humo: déjalo cerrado, avisa a todos y sigue las normas contra incendios.",
  "round.explode":
    "El polvo de madera arde y puede explotar: sin chispas, sin llamas, sin sacudir dentro. Ata las bolsas antes de llevarlas.",
  "round.local-codes":
    "Adónde puede ir el polvo lo dicen las normas locales; los manuales de las máquinas y las personas formadas van antes que esta lista.",

  "supply.told-low-left": "quedan {left} ({unit}); avisado que faltan {day}",
  "supply.order-now": "quedan {left} ({unit}): pide ya (la hoja dice con {low_at})",
  "supply.left": "quedan {left} ({unit}); pide con {low_at}",
  "supply.told-low": "avisado que faltan {day}; nadie dijo cuántas quedan ({unit})",
  "supply.uncounted": "nadie las ha contado todavía ({unit})",
  "layer.over":
    "{zone}: en el límite de limpieza de {limit} o por encima. El polvo arde y puede explotar: aspíralo antes de que nadie vuelva a cortar, sin soplar, sin chispas",
  "layer.still":
    "{zone}: {share} del límite de limpieza de {limit}; con la limpieza de ahora no crece",
  "layer.grows":
    "{zone}: {share} del límite de limpieza de {limit}; con la limpieza de ahora llega hacia {day}",
  "held.longer":
    "{kind}, {week}: {promised} previstos, {taken} reales, en {count} tareas: {share} más, lo que cuentan las próximas listas",
  "held.longer.count.one":
    "{kind}, {week}: {promised} previstos, {taken} reales, en {count} tarea: {share} más, lo que cuentan las próximas listas",
  "held.shorter":
    "{kind}, {week}: {promised} previstos, {taken} reales, en {count} tareas: {share} menos, lo que cuentan las próximas listas",
  "held.shorter.count.one":
    "{kind}, {week}: {promised} previstos, {taken} reales, en {count} tarea: {share} menos, lo que cuentan las próximas listas",
  "held.held":
    "{kind}, {week}: {promised} previstos, {taken} reales, en {count} tareas: la previsión acertó",
  "held.held.count.one":
    "{kind}, {week}: {promised} previstos, {taken} reales, en {count} tarea: la previsión acertó",
  "week.this": "esta semana",
  "week.last": "la semana pasada",
  "week.of": "semana del {day}",
  "kind.zone": "Limpiar zonas",
  "kind.common": "Polvo fino de todos",
  "kind.reset": "Dejar las máquinas como estaban",
  "kind.bin": "Depósitos",
  "kind.filter": "Filtros",
  "kind.air": "Aire",
  "kind.close": "Cierre",
  "behind.zone":
    "{zone}: pasado a otros {passed_on} de {listed} veces en las últimas {weeks} semanas. ¿Cuesta llegar, está lejos su herramienta o pide demasiado la lista?",
  "try.stop":
    "¿Sigue enclavada una parada de emergencia? Gírala o tira de ella: en la máquina, en la puerta, en la extracción.",
  "try.permit": "¿Pide antes una tarjeta, una llave o un permiso?",
  "try.guards": "¿Están bien cerradas las protecciones y tapas? Muchas máquinas no arrancan si no.",
  "try.gate":
    "¿Espera a su extracción? Mira {collector}: en marcha, su parada suelta, esta compuerta abierta.",
  "try.extraction": "¿Espera a su extracción? Mira {collector}: en marcha, su parada suelta.",
  "try.breaker":
    "¿Ha saltado su automático? Rearma una vez; si vuelve a saltar, déjala apagada.",
  "try.control": "¿Tiene una caja de control? Apaga, espera un minuto, enciende.",
  "try.never":
    "Nunca anules una protección ni un enclavamiento, y no abras nada con tensión. Lo que esto no arregle es para personas formadas: ponla fuera de servicio, desenchufada o bloqueada.",

  "reason.no-time": "Sin tiempo",
  "reason.no-tool": "La herramienta falta o está rota",
  "reason.not-safe": "Ahora no es seguro",
  "reason.not-able": "No puedo hacerlo",
  "reason.already-clean": "Ya está limpio",
  "reason.done-by-others": "Lo ha hecho otra persona",
  "reason.does-not-apply": "Hoy no procede",
  "look.room": "Hay mucho sitio",
  "look.half": "Por la mitad",
  "look.full": "Lleno",
  "look.weak-pull": "Aspira poco",
  "look.dirtier": "Más sucio de lo que dice",
  "look.cleaner": "Más limpio de lo que dice",

  "saving.nothing": "Aún no hay nada anotado.",
  "saving.no-folder": "No se guarda nada: se abrió sin carpeta.",
  "saving.one": "1 apunte guardado en este dispositivo, {own} hechos aquí.",
  "saving.one.own.one": "1 apunte guardado en este dispositivo, {own} hecho aquí.",
  "saving.many": "{count} apuntes guardados en este dispositivo, {own} hechos aquí.",
  "saving.many.own.one": "{count} apuntes guardados en este dispositivo, {own} hecho aquí.",
  "saving.doubtful": "{count} dicen una hora que no puede ser.",
  "saving.doubtful.count.one": "{count} dice una hora que no puede ser.",
  "sync.not-joined":
    "sin unirse aún: {here} guardados aquí, {under_way} en camino, {at_hub} en el servidor",
  "sync.offline":
    "sin conexión: {here} guardados aquí, {under_way} en camino, {at_hub} en el servidor[, {fetch} por traer][, {aside} apartados]",
  "sync.connecting":
    "conectando: {here} guardados aquí, {under_way} en camino, {at_hub} en el servidor[, {fetch} por traer][, {aside} apartados]",
  "sync.connected":
    "conectado: {here} guardados aquí, {under_way} en camino, {at_hub} en el servidor[, {fetch} por traer][, {aside} apartados]",
  "sync.up-to-date":
    "al día: {here} guardados aquí, {under_way} en camino, {at_hub} en el servidor[, {fetch} por traer][, {aside} apartados]",
  "sync.refused":
    "rechazado: {here} guardados aquí, {under_way} en camino, {at_hub} en el servidor[, {fetch} por traer][, {aside} apartados]",
  "sync.wrong-key":
    "quien responde allí tiene otra clave que el servidor al que se unió este dispositivo: pregunta a quien coordina antes de nada",
  "join.leads": "El servidor en {host}, puerto {port}.",
  "join.leaves": "Con esto el dispositivo deja «{shop}».",

  "mistake.no-sheet": "aún no hay hoja del taller; carga una primero",
  "mistake.no-folder": "se abrió sin carpeta, así que no se guarda nada",
  "mistake.newer": "esto solo lo sabe una versión más nueva",
  "mistake.people": "di de 1 a 50 personas",
  "mistake.time": "no es una hora; escribe HH:MM, como 21:30",
  "mistake.within": "di de 1 a 1440 minutos",
  "mistake.code":
    "no es un código entero ({part}); escanéalo o escríbelo otra vez, o pide uno nuevo a quien coordina",
  "mistake.not-joined": "este dispositivo no se ha unido a un taller: pide un código a quien coordina",
  "mistake.no-list": "aún no ha terminado ninguna sesión en este dispositivo",
  "mistake.no-such-list": "esta sesión no está en este dispositivo",
  "mistake.machine-kind":
    "{machine} corta {cuts}; {stock} es {is}; nombra otro material u otra máquina",
  "mistake.not-out": "{machine} no está fuera de servicio",
  "mistake.not-waiting": "«{duty}» no es una tarea que espere aquí; una de {waiting}",

};
