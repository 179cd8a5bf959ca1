package lexicon

// The words of this file are what people write about a nest they checked, by what each does in a sentence. Phrases are
// parted by semicolons. Articles, pronouns and the like may stand between the words of a phrase, so they are left out,
// unless the phrase would mean something else without them. The forms of verbs are made in verbs.go.

// A sense is what a word or phrase does in a sentence about a nest.
type sense uint8

const (
	strange sense = iota // not known
	filler               // changes nothing
	little               // an article, a pronoun, a preposition: changes nothing, and may stand inside a phrase

	// What the eggs are like.
	good    // all right: says so by itself
	fair    // all right, if it is said of eggs or stands alone: good, full, great
	here    // there: says so by itself
	holds   // left, had, found: needs a number or what is spoken of
	gone    // not there any more
	ate     // done by a predator
	got     // done by whoever is named beside it: got, took, hit
	broke   // broken by whoever is named beside it; nothing where nobody is
	crushed // the same; by livestock where nobody is named
	split   // the same; by heat or frost where nobody is named
	trod    // stepped on
	drowned // under water
	rotted  // burst, rotten, burned, cut
	over    // on it, over it: by whoever is named beside it
	touch   // bothered, touched: says something only where it is denied
	harm    // damage, trouble: the same
	absent  // missing, lost: eggs are taken, a nest or a flag is not found
	spent   // gone, where it stands alone in its cell; else nothing

	// Who did it.
	predator // named by its own word, or not named at all: animal, varmint
	raptor   // a bird that is seen more than it robs: says nothing alone
	stock    // livestock
	water    // rain, creek: needs a verb
	weather  // wind, sun: needs a verb
	bane     // hail, fire, machines, frost, ants
	person   // the crew itself
	unnamed  // something: needs a verb
	sign     // tracks, scat: who is named beside it was about, no more
	nearby   // saw, close by: the same

	// Looking for the nest.
	find
	search
	visit    // checked, entered: says something only where it is denied
	goes     // went, did, been: the same, where no other verb follows
	unable   // could, was able
	lost     // the nest was not found
	unmarked // the flag was not found: yields to whatever else is said
	skipped  // nobody looked
	ended    // nothing was left to look at: yields to whatever else is said
	removed  // the crew took the eggs: yields to whatever else is said

	// What is spoken of.
	egg
	shell
	nest
	flag
	plant
	hole

	// How much, and how it is said.
	not
	nobody
	nothing
	amount // a number of eggs
	all
	only
	rest
	except // all but one, menos uno
	some   // a part, not told how many
	but
	now
	or
	maybe   // doubt, unless it is about who did it
	unsure  // doubt
	thought // what was believed before looking
	before
	since
	still
	fresh     // eggs put in again: what stands beside it says nothing of what was found
	elsewhere // of another nest
	self      // i, we
	of
	to
	setOut
	yes
	no
	stop // a mark between words
)

// stateWords are words and phrases by sense. English and Spanish stand side by side.
var stateWords = map[sense]string{
	filler: `a bit; a little bit; a wee bit; un poquito; both times; both looks; both visits; both checks; each time; every time; las dos veces; las dos vueltas; ambas veces; cada vez`,

	good: `integro; integra; integros; integras; viable; gd; gud; hail missed; hail missed it; hail missed them; fire missed; fire missed it; flood missed; flood missed it; as i left; as i left it; just as i left it; as we left it; like i left it; how i left it; the way i left it; same as i left it; como la deje; como lo deje; como los deje; como la dejamos; como lo dejamos; tal como lo deje; lasted; in tact; intact; intac; ok; okay; okey; okie; oky; fine; whole; safe; alive; untouched; undisturbed; unharmed; undamaged; unbroken; unmolested; unhurt; unscathed; unspoiled; unopened; unchanged; untampered; un touched; un disturbed; un broken; un harmed; un damaged; un molested; survivor; survivors; made; made out alright; made through; pulled through; held up; holding up; holding; held on; holding on; hanging on; hanging in; beat odds; keeper; all right; alright; all here; all there; eggs in; eggs ok; eggs there; eggs here; eggs present; eggs good; eggs all there; eggs in place; all present; all safe; all good; all ok; all fine; all in; all well; all intact; all in place; in place; all remaining; all remain; all accounted for; accounted for; all and accounted for;
		no change; no changes; no damage; no loss; no losses; no problem; no problems; no trouble; no worries; no issues; nothing wrong; nothing to report; nothing new; nothing happened; nothing changed; nothing out of place; no different; looks good; looking good; look good; doing fine; doing good; doing well; sitting pretty; still sitting; still kicking; still going; still holding; still with us; sitting there; sitting there pretty; good to go; clutch full; full clutch; full set; full nest; full house; full count; kept eggs; had all eggs; present and accounted for;
		same as before; same as set; same as left; same as found; same as placed; same as we left; same as when set; just as left; just like left; like left; as left; as set; as placed; as put; as found; where left; where put; where set; right where left; exactly where; same spot; same condition; good shape; good condition; fine shape; good order; good as new; good as gold; right as rain; fit as fiddle; safe and sound; safe sound; snug; tip top; top shape; ship shape; shipshape; peachy; dandy; thumbs up; aok; a ok; a okay; in one piece; one piece; pretty as picture; clean as whistle; picture perfect; like new; none worse; no worse for wear; not mark on; not scratch; not scratch on; no scratches; not scratched; not nick; so far so good; tough little nest; tough nest; tough one; lucky nest; lucky one; still got em; still has em; still has eggs; still have eggs; still got eggs; int; intct; √; ☺; went unnoticed; overlooked; left alone; let alone;
		completo; completa; completos; completas; conpleto; completito; completitos; cabal; cabales; cabalitos; intacto; intacta; intactos; intactas; intactito; intactitos; ileso; ilesos; ilesa; ilesas; entero; entera; enteros; enteras; enterito; enteritos; sano; sana; sanos; sanas; sanos y salvos; a salvo; vivo; viva; vivos; vivas; bien; bn; muy bien; todo bien; todos bien; todas bien; todo ok; todo en orden; en orden; todo completo; todo igual; todo normal; todo tranquilo; tal cual; como estaba; como estaban; como se dejo; como lo dejamos; como los dejamos; como los dejaron; como lo puse; como los puse; como se puso; igualito; igualitos; en su lugar; en sus lugares; en su sitio; en buen estado; buen estado; al cien; sin tocar; sin dano; sin danos; sin novedad; sin novedades; sin cambio; sin cambios; sin problema; sin problemas; sin perdida; sin perdidas; sin bronca; sin broncas; sin quebrar; sin comer; sin mover; sin alterar; sin tentar; no paso nada; no les paso nada; no le paso nada; no ha pasado nada; nada nuevo; nada falta; todo ahi; todos ahi; todito; toditos; aguanta; aguantan; siguen ahi; sigue ahi; ahi siguen; ahi sigue; con huevos; huevos bien; huevos completos; huevos enteros; huevos buenos`,

	fair: `good; well; right; great; perfect; excellent; nice; fantastic; awesome; live; full; complete; active; success; successful; normal; same; stable; sound; had eggs; has eggs; have eggs; 
		bueno; buena; buenos; buenas; perfecto; perfecta; perfectos; perfectas; igual; iguales; lleno; llenos; todo; todos; toda; todas; hay huevos; tiene huevos; tenia huevos; tranquilo`,

	here: `there; here; present; thare; ther; still there; still here; still present; still in; still in nest; still in bowl; visible; ahi; alli; aqui; alla; ai; siguen; sigue; seguian; seguia; ahi estan; ahi estaban; ai estan; ahi stan; estan ahi; estan todos; estaban todos; presente; presentes; en su nido; en el nido`,

	holds: `left; remain; remains; remained; remaining; remainin; had; has; have; holding; collected; gathered; counted; count; counting; still got; still has; still have; saw all; see all; in bowl; in nest; in clump; in cup; in hand; outside; outside bowl; out of bowl; hay; ay; habia; habian; hubo; tiene; tienen; tenia; tenian; estan; estaban; stan; contados; conte; contamos`,

	gone: `absent; eggs absent; absent eggs; ausente; ausentes; inactive; unsuccessful; not successful; dest; clutch removed; clutch missing; clutch absent; clutch lost; removed by predator; removed by animal; removed by something; rolled off; rolled out; rolled away; gone; goner; goners; all gone; taken; empty; emptied; empty nest; nest empty; bowl empty; empty bowl; disapeared; zilch; nada left; out of eggs; no more eggs; no more; predation; depredation; pred; preds; depred; dep; depr; depd; predated; depredated; unk pred; unknown pred; unknown predator; lost to predator; lost to animal; lost to animals; lost to an animal; lost to varmint; lost to varmints; lost to critter; lost to critters; lost to wildlife; lost to predation; lost to predators; lost predator; lost predation; lost eggs; none left; nothing left; nothing there; nothing here; nothing remaining; nothing remains; none there; none here; none remaining; zero eggs; no survivors; not one left; not there; not here; not present; not intact; not ok; not whole; not all there; not alive; no longer there; no longer here; no longer present; bit dust; wiped; cleaned out; cleand out; clean out; cleaned house; cleared out; wiped out; wiped clean; clean gone; eggless; partial dep; part gone; partly gone; partial loss; partial predation; partial; fate predated; fail; failed; failure; did not survive; didnt survive; all lost; nothing but wet spot; not so lucky; not lucky; unlucky; out of luck;
		vacio; vacia; vacios; vacias; nido vacio; ya no hay; ya no habia; ya no estan; ya no estaban; ya no esta; ya no estaba; ya no queda; ya no quedan; ya no tiene; ya no tenia; no hay; no hay nada; ya no hay nada; no habia nada; no dejo nada; no dejaron nada; no tiene nada; no tenia nada; no quedaba nada; no estan; no estaban; no estaba; no queda; no quedo; no quedan; no quedaron; no quedaba; no quedaban; no quedo nada; no queda nada; no quedo ni uno; no quedo ninguno; no queda ninguno; no habia ninguno; no hay ninguno; no tiene; no tenia; nada quedo; no amanecio; no amanecieron; sin huevos; sin huevo; no huevos; no hay huevos; no habia huevos; ningun huevo; no habia ningun huevo; sin nada; ya se fueron; se acabaron; acabado; acabados; acabada; acabaron; perdidos; perdidas; todo perdido; todos perdidos; se esfumaron; ya valio; falta; faltan; faltaba; faltaban; faltando; faltaron; hace falta; hacen falta`,

	ate: `eaten in place; eaten right in place; ate in place; eaten in nest; tooth holes; teeth holes; fang holes; et; et up; eated; etten; eaten up; ate up; eatin; carried off; carried away; carry off; carried; dragged off; dragged away; drug off; drug away; hauled off; packed off; packed; ran off with; run off with; made off with; walked off with; flew off with; fly off with; flying off with; flew away with; went off with; licked; licked out; licked clean; licked dry; licked up; picked clean; picked off; cleaned up; polished off; chowed down; finished off; sucked out; sucked dry; dug out; digged out; dug up; dug into; dug it; dug it up; dug them; dug them up; digged up; dig out; rooted; rooted up; rooted out; rooted through; rooting; tore into; torn into; got into; gotten into; broken into; broke into; opened; opened up; cracked open; pecked open; pecked holes; pecks; peck holes; peck marks; chewed up; had for breakfast; had for lunch; had for supper; had for dinner; somebodys breakfast; somebodys lunch; somebodys supper; made meal; fed on; feasted; feasted on; beat us to; tooth marks; teeth marks; bite marks; scratched out; hole in each; holes in all; hole in all; holes in each; holes in eggs; hole in egg; hole in eggs; holes in every; holes in shell; holes in shells; hole in one; holes in;
		mordida; mordidas; picoteo; picotazos; picotazo; hoyo en cada; hoyos en los huevos; destapados`,

	got: `got; gotten; took; hit; torn up; tore up; tore out; torn out; tear up; tore apart; torn apart; pulled apart; ripped apart; ripped up; ripped out; messed up; did in; done in; got em; got them; got all; got hit; took em; took them; took eggs; took all; took out; taken out; where nest was; where nest used; where eggs were; nest gone; nido desaparecido; tapo; taparon; tapado; tapados; acabo con`,

	broke:   `broken up; broke up; broke open; broken open; smashed up; busted up; partial damage`,
	crushed: `crushed flat; smashed flat; squished flat; flat; caved in`,
	split:   `busted open; bust open; split open; bursted`,

	trod: `tramp; tramps; trampeled; trampled on; trompled; tromped on; tramped; tramped down; tramped on; stepped; stept; steped; stepping; stepped on; stepped in; step on; stepped right on; stepped right in; stepped all over; steped on; stept on; stomped on; stomped flat; stomped in; tread on; trod on; walked on; walked all over; laid on; lay on; laid down on; laying on; laid right on; bedded; bedded on; bedded down; bedded down on; slept on; rolled on; rolled in; kicked; kicked over; kicked out; pawed; wallowed; wallered; hoofed; hoof print in; hoofprint in; hoof prints in; hoofprints in; hoof mark in; hoof in; hoof right in; print in bowl; print in nest; print in middle; print right in; hoof; hooves; hoofs; cow step; cow stepped; cows stepped; bull stepped; cow bed; by hoof; under hoof; underfoot; foot print; 
		se acostaron; se acosto; se revolco; se revolcaron; pezuna; pezunas; pezunazo; patada; patadas; pisoton; pisotones; pisoteo`,

	drowned: `under mud; in mud; buried in mud; mud over; mudded in; filled draw; filled with mud; full of mud; lleno de lodo; llena de lodo; llenos de lodo; bajo el lodo; enterrado en lodo; enlodado; enlodados; floated; floating; floated off; floated away; floated out; flood; floods; flooded; flooding; flooded out; washed out; washed away; washed off; washed down; washed downhill; washed downstream; washout; wash out; washed over; swept away; swept off; swept down; carried by water; in water; under water; underwater; full of water; filled with water; filled up with water; water over; water on; water in nest; water in bowl; water in eggs; water in cup; standing water; high water; water got; water came over; water came up; water rose; backed water; backed water on; rained out; flash flood; creek got; creek came; creek came up; creek flooded; creek rose; creek over; creek took; river got; river came; river came up; river rose; river over; crick came up; crick got; slough came up; pond came up; lake came up; draw ran; draw came up; wash ran; arroyo ran; ran over bank; out of banks; came up over; overflow; overflowed; ponded; ponded up; silted; silted in; silted over; silt over; buried in silt; gully washer; gullywasher; cloudburst; irrigated; irrigation; afloat; drownded;
		inundacion; inundaciones; creciente; crecida; crecio arroyo; crecio rio; crecio el agua; subio agua; subio rio; subio arroyo; llevo agua; llevo arroyo; llevo corriente; llevo rio; llevo lluvia; bajo agua; bajo el agua; debajo agua; debajo del agua; lleno agua; lleno de agua; llenos de agua; llena de agua; con agua adentro; entro agua; le entro agua; tapo arroyo; tapo rio; tapo agua; avenida de agua; tromba; se metio agua; metio agua`,

	rotted: `maquinaria; machinery; cosechado; cosechada; cosechados; harvested; swathed; nonviable; not viable; non viable; other loss; other losses; not predator; not predators; not a predator; non predator; nonpredator; not predation; non predation; other cause; otra causa; otra perdida; corto la segadora; cortado con la segadora; segado; segados; cortado; se corto el zacate; cortaron el zacate; rot; rots; rotted; rotten; rotton; rotting; rotten eggs; spoilt; burst; bursting; popped; pop; popping; blew up; blown up; blowed up; blow up; went off; bad eggs; eggs bad; went bad; gone bad; going bad; turned bad; stink; stinks; stinking; stunk; stunk up; smelled bad; smells bad; smelled rotten; smells rotten; smelled awful; smelly; putrid; maggots; maggoty; mold; moldy; mouldy; fungus; sun baked; sun cooked; sunburnt; sunburned; heat cracked; cracked heat; cracked from heat; cracked by heat; cracked freeze; cracked frost; swole; swole up; swelled up; swollen; leaked out; oozin; hail got; hail damage; hailed; hailed out; hailed on; hailed to pieces; hailing; froze; frozen; burned; burnt; burned up; burnt up; burned over; burnt over; burned off; charred; blackened; burn over; plowed under; plowed up; mowed over; hayed over; cut hay; cut with hay; hay cut; baled up; disked under; tilled; sprayed; graded; bladed; dozed; run over; ran over; runned over; driven over; drove over; drove on; parked on; windblown; my boot; my fault; my foot; our fault; own fault; accidentally; accidently; by accident; on accident; dropped one; dropped it; dropped eggs; stuffy;
		se echo a perder; se echaron a perder; echado a perder; echados a perder; echaron perder; echo perder; echados perder; podrido; podrida; podridos; podridas; gueros; hueros; huero; apestosos; apestoso; apesta; apestan; hediondo; hediondos; gusanos; con gusanos; granizal; granizada; quemazon; lumbre; incendio; fuego; tractor paso; paso tractor; sin querer; por accidente; la regue; se me quebro; se me cayo; se me rompio; pise; pise yo; pisamos`,

	over:     `on it; on them; on em; on this one; on top; on nest; on bowl; over it; over them; over this one; over nest; over top; went over; ran through; ran thru; went through; went thru; came through; came thru; through it; fell on; on one; encima; por encima; paso encima; paso por encima; se paro encima; se echaron; se echo`,
	touch:    `messed with; messed; tampered with; nosed; sniffed`,
	harm:     `bad; loss; losses; problem; problems; trouble; issue; issues; wrong; injury; disturbance; danos; dano; problema; problemas; bronca; broncas; malo; mala; mal; change; changes; novedad; novedades; cambio; cambios`,
	absent:   `missing; missin; lost; lossed; losted; lose; perdio; perdieron; perdido; perdida; falto; short`,
	predator: `predator; predators`,
	spent:    `dead; x; xx; xxx; ✗; animal; varmint; varmints; critter; critters; depredador; depredadores; bichos; not good; no good; bit; bandits; bandit; thief; thieves; chewing; breakfast; lunch; supper; dinner; snack`,

	raptor:  `hawk; hawks; red tail; redtail; eagle; eagles; owl; owls; falcon; harrier; buzzard; buzzards; vulture; vultures; kestrel; shrike; gavilan; gavilanes; aguila; aguilas; aguililla; halcon; tecolote; lechuza; buho; zopilote; zopilotes; aura; auras; quebrantahuesos; caracara; heron; crane`,
	stock:   `cow; cows; cattle; livestock; stock; herd; whole herd; heifer; heifers; heffer; heffers; calf; calves; bull; bulls; bulls fighting; steer; steers; yearling; yearlings; stocker; stockers; horse; horses; mare; mares; colt; colts; pony; ponies; saddle horse; sheep; ewe; ewes; lamb; lambs; goat; goats; bison; buffalo; mule; mules; donkey; donkeys; llama; llamas; elk; dairy cow; milk cow; longhorn; longhorns; vaca; vacas; vaquilla; vaquillas; vaquillona; vaquillonas; ganado; becerro; becerros; becerra; becerras; ternero; terneros; toro; toros; torete; toretes; novillo; novillos; novillona; buey; bueyes; caballo; caballos; yegua; yeguas; potro; potros; potranca; mula; mulas; burro; burros; borrego; borregos; borrega; borregas; oveja; ovejas; chiva; chivas; chivo; chivos; cabra; cabras; res; reses; hato; semental; cattle trail; cow trail; beef; moo`,
	water:   `water; wet; soggy; soaked; sopping; muddy; mojado; mojada; mojados; mojadas; rain; rains; big rain; rainstorm; thunderstorm; downpour; creek; crick; river; stream; slough; pond; puddle; lake; tank overflow; irrigation water; runoff; beaver dam; mud; silt; rainwater; current; agua; lluvia; lluvias; llovio; llovio mucho; aguacero; aguaceros; chubasco; arroyo; rio; corriente; laguna; charco; presa; represa; acequia; canal; lodo; avenida`,
	weather: `wind; winds; sun; storm; storms; tormenta; tormentas; snow; snowstorm; blizzard; sand; viento; vientos; airon; ventarron; sol; nieve; drought; lightning`,
	bane:    `hail; hails; hailstorm; hail storm; hailstone; hailstones; hail stone; hail stones; hale storm; golf ball hail; heat; fire; wildfire; wild fire; prairie fire; grass fire; range fire; burn; prescribed burn; controlled burn; frost; freeze; tornado; twister; tractor; tractors; mower; shredder; brush hog; bush hog; swather; hay mower; haybine; baler; combine; harrow; sprayer; sprayer track; dozer; bulldozer; grader; backhoe; skid steer; truck; trucks; pickup; pickups; feed truck; atv; atvs; four wheeler; four wheelers; ute; utv; motorcycle; vehicle; vehicles; tire; tires; tire track; tire tracks; ant; ants; fire ant; fire ants; red ants; calor; helada; heladas; granizo; granizazo; tractores; maquina; maquinas; rastra; troca; trocas; camioneta; camionetas; camion; cuatrimoto; cuatrimotos; carro; hormiga; hormigas; ormiga; ormigas; hormiga brava; hormiga colorada; hormigas bravas; remolino; segadora; quema`,
	person:  `myself; ourselves; intern; yo; nosotros`,
	unnamed: `people; hikers; hunters; campers; fishermen; trespassers; strangers; gente; cazadores; something; somethin; sumthin; someone; somebody; some animal; some critter; algo; alguien; algun animal; un animal; algun bicho; culprit; egg sucker; egg suckers; egg eater; nest robber`,

	sign:   `tracks in mud; track in mud; tracks in the mud; prints in mud; prints in the mud; huellas en el lodo; huella en el lodo; no trace of shell; no trace of shells; track; tracks; print; prints; footprint; footprints; hoof print; hoofprint; hoof prints; hoofprints; hoof mark; hoof marks; hoof tracks; hoof track; scat; poop; turd; turds; manure; dung; cow pie; cow pies; cowpie; cow patty; cow patties; droppings; dropping; hair; hairs; fur; feather; feathers; smell; smells; odor; den; dens; burrow; trail; sign; signs; evidence; trace; huella; huellas; guella; guellas; rastro; rastros; excremento; excrementos; estiercol; cagada; caca; pelo; pelos; plumas; olor; madriguera; sena; senas; indicio; indicios; evidencia; echadero`,
	nearby: `saw; seen; seeing; nearby; near; close; close by; around; alongside; next to; beside; overhead; circling; watching; in area; in pasture; in here; in draw; in sight; came by; walked by; went by; passed by; passing; got close; came close; close call; almost; hanging around; by flag; by nest; flushed; wouldnt let; cerca; cerquita; alrededor; por ahi; por aqui; por alli; rondando; andaba; andaban; anda; andan; junto; al lado; a un lado; dug nearby; all around; all over; all over the place`,

	find:   `fnd; locate; located; finding; lay eyes; dar con; di con; dimos con; dieron con; dio con; di; dimos`,
	search: `looked for; looked; looking; look for; paced`,
	visit:  `checkd; chk; chkd; ck; cked; ckd; look; look at; looked at; looked in; see nest; entry; access; reach in; acceso; vuelta; revision; check it; survey`,
	goes:   `go; goes; went; going; get; gets; getting; get to; get there; get in; make; do; does; did; done; doing; been; be; being; come; came; coming; ir; fue; fui; fuimos; fueron; hacer; hizo; hice; hicimos; hicieron; paso; pase; pasamos; ha sido`,
	unable: `could; able; can; would`,

	lost: `not relocated after; relocation failed; not recovered; unrecovered; not recover; unlocated; unl; not relocated; not found; no find; no found; not find; never found; never find; unfound; un found; nf; n f; cnf; dnf; nest not found; unable find; unable locate; unable relocate; not able find; no luck; no luck finding; hunted no luck; gave up; gave up looking; quit looking; no trace; no trace nest; no trace of it; nest lost; lost nest; lost spot; lost location; lost place; spot lost; spot not found; missing nest; nest missing; no nest; no nest found; misplaced; mislaid; lost track; couldnt see; could not see; cant see; where is; where are; walked right past; looked everywhere; looked all over; searched everywhere; hunted everywhere; looked and looked; looked and looked and looked; searched and searched; nowhere; nowhere to be found; not to be found; lost-nest;
		no hallo; no halle; no hallamos; no hallaron; no hallado; no encontro; no encontre; no encontramos; no encontraron; no encontrado; no encontrada; no encontrados; no localizado; no localizo; no aparecio; no aparece; no encuentro; no encuentra; no se ve; no se mira; no dimos; no di; no vi; ni rastro; ni sus luces; nido no encontrado; nido perdido; nido extraviado; perdi el nido; perdimos el nido; se perdio el nido; extraviado; extraviada; extravio; se extravio; sin encontrar; sin localizar; busque y busque; buscamos y buscamos; busque por todos lados; buscamos por todos lados; donde esta; por ningun lado; en ningun lado; por ninguna parte`,
	unmarked: `no flag; no flags; no marker; no washer; no stake; no pin; no ribbon; flag gone; flag lost; flag missing; flag down; lost flag; lost marker; missing flag; flag pulled; flag blown; flag blew; flag eaten; stake gone; stake missing; marker gone; marker missing; marker lost; pin gone; pin missing; pin flag gone; pin flag missing; ribbon gone; ribbon missing; tape gone; gps off; gps died; gps dead; gps bad; gps wrong; bad gps; sin bandera; sin banderita; sin estaca; sin marca; sin liston; sin rondana; no bandera; no hay bandera; no habia bandera; perdi bandera; perdio bandera; perdi la bandera; bandera perdida; bandera tirada; bandera caida; estaca perdida; volo bandera; se volo la bandera; volo la bandera; bandera volo`,
	skipped: `not make it to; water over trail; water over road; water over crossing; road washed out; roads washed out; bridge out; crossing washed out; road under water; road flooded; skip; skiped; skipped; skipping; skipt; unchecked; unvisited; missed; missed check; missed this one; not run; no run; not done; nc; n c; not ck; no ck; no chk; no check; not chk; dnc; na; not applicable; no data; no visit; no trip; no access; no entry; no go; no look; no time; no obs; no observation; not observed; not seen; not surveyed; no survey; out of time; out time; ran out time; ran out daylight; ran out light; ran out day; ran out gas; out of daylight; too dark; got dark; getting dark; too late; too hot; too cold; too wet; too muddy; too windy; too much mud; too deep; truck stuck; got stuck; had flat; flat tire; broke down; truck broke; out of gas; gate locked; locked gate; gate chained; chained gate; locked out; wrong key; no key; lost key; lock changed; roads bad; bad roads; road bad; road out; road closed; road too muddy; roads impassable; road impassable; impassable; creek too high; creek up; creek high; river up; river high; water too high; bull pasture; bull in pasture; bull in there; bulls in there; mean bull; let near; not allowed; no permission; not there yet; not this time; later; next time; left out; quit early; quit for day; quit at nest; quit; called off; branding that day; branding day; shipping day; working cattle; hunters in pasture; quarantine; quarantined; fire closure; closed area; closure; lightning quit; stayed away; stayed out; stayed clear; kept away; backed off; turned back; turned around; forgot; forgot this; forgot this one; forgotten; postponed; delayed; rain delay; season not run; sold cattle; no crew; nobody here; vacation; snowed in; wouldnt let me near; wouldnt let us near; line not walked;
		sin revisar; sin revision; sin visita; sin visitar; sin checar; sin ver; sin tiempo; sin dato; sin datos; sin acceso; sin llave; no reviso; no revise; no revisado; no revisada; no revisamos; no revisaron; no se reviso; no visito; no visitado; no llegue; no llegamos; nadie fue; no fue nadie; nadie reviso; no vimos; porton cerrado; puerta cerrada; puerta con llave; porton con llave; candado; con candado; falta revisar; falto revisar; faltaron por revisar; falto checar; pendiente; pendientes; no alcanzo tiempo; no hubo tiempo; no hubo chanza; no dio tiempo; no me dio tiempo; no nos dio tiempo; no tuve tiempo; no tuvimos tiempo; se nos hizo tarde; se hizo tarde; se hizo noche; se hizo de noche; camino cerrado; camino malo; mal camino; arroyo crecido; mucho lodo; se atasco; nos atascamos; atascados; se descompuso; no aplica; se me olvido; se nos olvido; lo olvide; me olvide; se me paso; para otro dia; otro dia; la proxima; hacia mucho calor; dia de herradero; no se corrio; no se hizo; no fui; no fuimos; no fueron; no fue; no alcance; no alcanzamos; no alcanzo`,
	ended: `already gone; gone already; gone before; already done; already lost; already taken; already eaten; already dead; already failed; already pulled; done; done before; done already; done with; finished; finished already; finished before; finished earlier; nest finished; over; no need; no need look; no point; no reason; nothing left look; nothing left look at; nothing left to look at; nothing left check; nothing left to check; nothing to check; nothing to look; nothing to look at; nothing to see; nothing check; no eggs to check; no eggs check; no nest to check; see above; ended; closed; closed out; crossed off; crossed out; x ed out; x ed; xed out; dropped; dropped out; retired; discontinued; not needed; off list; out of study; no nest anymore; no longer active;
		ya perdido; ya comido; ya comidos; ya estaba; ya estaba perdido; ya estaba comido; ya habia perdido; ya se habia perdido; ya habian comido; terminado; terminada; acabo; se acabo; ya acabo; ya acabado; ya terminado; ya termino; ya sin nido; ya no existe; ya no se reviso; ya no se revisa; ya no revisamos; ya no revise; ya no hay nido; ya no habia nido; ya no habia antes; no hay nada que revisar; nada que revisar; no hay que revisar; no hay nada que ver; nada que ver; no hay huevos que revisar; sin nido; de baja; concluido; nothing to do`,
	removed: `pulled; pulled eggs; pulled em; pulled nest; collected eggs; picked up; picked eggs up; picked up eggs; brought eggs in; brought in; took em out; took them out; took eggs out; took em home; took em in; took eggs home; removed; taken up; taken in; gathered up; gathered eggs; recogidos; recogido; recogi; recogimos; recogieron; levantados; levante; levantamos; retirados; retirado; se recogieron; se retiraron; se levantaron`,

	egg:   `egg; eggs; huevos; eg; egs; eggz; huevo; huevito; huevitos; huebo; huebos; blanquillo; blanquillos; blankillos`,
	shell: `pieces; halves; fragments; shell halves; pedacitos; pedazos; shell; shells; shel; shels; eggshell; eggshells; egg shell; egg shells; yolk; yolks; yoke; egg white; membrane; membranes; cascara; cascaras; cascaron; cascarones; cascarita; cascaritas; yema; yemas`,
	nest:  `nest; nests; nido; nidos; bowl; scrape; cup; cama; spot; site; location; sitio; lugar; clutch`,
	flag:  `flag; flags; flagging; flaggin; washer; washers; marker; markers; stake; stakes; pin; pins; pinflag; ribbon; tape; tag; lath; bandera; banderas; banderita; estaca; estacas; rondana; marca; liston; cinta`,
	plant: `clump; clumps; grass; grasses; yucca; yuccas; pear; pears; cactus; bush; bushes; brush; shrub; sage; sagebrush; weed; weeds; bunchgrass; soapweed; pads; pear pads; leaves; vegetation; fence; tree; mata; matas; zacate; nopal; nopales; palmilla; palmillas; hierba; yerba; pencas; macollo; monte; arbusto`,
	hole:  `hole; holes; hoyo; hoyos; agujero; agujeros; dig; digs; diggings; dug; digging`,

	not:       `not; never; no; didnt; doesnt; dont; dint; wasnt; werent; isnt; arent; hasnt; havent; hadnt; aint; wont; wouldnt; cant; cannot; cudnt; couldnt; couldn; didn; wasn; isn; haven; hasn; coudnt; culdnt; unable; without; nor; neither; sin; ni; nunca; jamas; tampoco; nomore`,
	nobody:    `nobody; nobodys; noone; no one; no body; nadie; ningun animal`,
	nothing:   `none; nothing; nothin; not one; not a one; not any; ninguno; ninguna; ningun; ningunos; ni uno; ni un; ni siquiera uno; nada`,
	all:       `all; every; each; everything; every one; everyone; cada; ambos`,
	only:      `only; just; solo; solos; solamente; nomas; nada mas; puro; pura; puros; puras; unicamente; nothing but; nothin but; nothing left but; none but`,
	rest:      `rest; other; others; remainder; otro; otros; otra; otras; demas; resto`,
	except:    `except; except for; but for; excepto; all but; minus; less; menos`,
	some:      `some; few; couple; several; part; half; most; mostly; partly; algunos; algunas; unos; unas; pocos; parte; mitad; varios`,
	but:       `but; pero; however; though; although; aunque; instead; sino; anyway; anyways`,
	now:       `now; then; ahora; finally; al fin; por fin`,
	or:        `or; either; o; u; versus; vs`,
	maybe:     `maybe; mebbe; perhaps; possibly; possible; poss; probably; prob; probly; prolly; likely; suspect; suspected; suppose; guess; guessing; think; thinking; thinks; appears; appeared; apparently; seems; seemed; seem; looks; looks like; looked like; might; may have; assume; assumed; presumably; presumed; believe; creo; cree; creemos; quiza; quizas; tal vez; talvez; parece; parecia; posible; posiblemente; probable; probablemente; puede; puede ser; a lo mejor; capaz; pienso; supongo; sospecho`,
	unsure:    `not sure; unsure; not certain; uncertain; hard to tell; hard tell; cant tell; cant say; cant remember; cant read; cant recall; dont remember; dont recall; couldnt tell; could not tell; couldnt say; couldnt read; illegible; unreadable; smudged; idk; dunno; dont know; do not know; no idea; no clue; who knows; huh; questionable; unclear; undetermined; tbd; wrong nest; wrong spot; mixed up; so so; more or less; mas o menos; masomenos; no sabe; no se sabe; no sabemos; quien sabe; sepa; ni idea; a saber; dudoso; raro; rara; no recuerdo; no me acuerdo; no supe; weird; strange; odd; unknown; unk; desconocido; forgot what; forgot which`,
	thought:   `thought; figured; expected; wouldnt believe; wont believe; cant believe; hard to believe; was sure; were sure; afraid; worried; feared; supposed; swore; crei; creiamos; pensaba; pense; pensamos; pensabamos; creia`,
	before:    `already; previously; prior; earlier; before; last time; last visit; last check; last trip; last round; last look; previous visit; previous check; previous trip; anteriormente; antes; la vez pasada; la otra vez; la ultima vez; la visita pasada; la revision pasada; desde antes; de antes`,
	since:     `since; desde; ever since`,
	still:     `still; stil; todavia; aun; yet`,
	fresh:     `each nest; to a nest; to nest; per nest; apiece; por nido; cada nido; en cada uno; store eggs; hen eggs; hens eggs; chicken eggs; huevos de gallina; fresh; replaced; re egged; reegged; restocked; swapped; nuevos; nuevo; repuestos; repuse; repusimos; new eggs; new ones; extra; replacement; replacements; put back; changed out; changed them; changed them out; changed eggs; changed eggs out; swap; swaps; swapped out; switched out; switched them; switched eggs; rotated; rotated out; exchanged; refreshed; renewed; traded out; cambie los huevos; cambiamos los huevos; se cambiaron; cambiados; renovados`,
	elsewhere: `another nest; other nest; different nest; next nest; old nest; otro nido; de otro nido; wild nest; real nest`,
	setOut:    `set; set out; setout; set up; put; put out; putout; placed; place; deployed; deploy; new; start; started; start nest; built; made nest; installed; laid; initial; begin; out; puesto; puesta; puestos; puso; puse; pusimos; pusieron; se puso; colocado; colocada; colocados; colocacion; instalado; instalacion; inicio; salida; set nest; nest set; eggs set; eggs out; eggs put`,
	yes:       `yes; y; yep; yeah; si; s; true; t; verdadero`,
	no:        `n; nope; false; f; falso`,
	of:        `of; de; del; outta`,
	to:        `to`,
	self:      `i; we`,
	little:    `the an it its is was were has been he she they them their this that these those at for by with as so my our your em her him el la los las lo le les se un una a es era son su sus me nos y and que con por muy mas ha han eso ese esa al le`,
}

// asideWords may stand beside what is said of a nest without changing it.
const asideWords = `again today just only very really quite some about also even ever too more than from into off in under out big small large little brown white old dried neat messy end ends side inside bits bit pieces piece crumbs fragments scattered strewn left_ post road gate line week weeks time times day days first second third last visit_ photo picture pic see note notes per early late dry windy dark cam camera camara status eggs_ lol yep yeah yes nope well_ man boy boss sorry ha jaja dang darn
	otra vez dia primera segunda nuevo_ chico chica grande grandes pedazos pedazo abierto punta lado en sobre todavia regada regado media hora muy mucho mucha mucho tambien ahorita hoy ayer luego entonces asi nada_ solo_ tanto pues ora ya se`
