// Reads a data package with the standard's own JavaScript library: node datapackage.cjs NODE_MODULES FOLDER
// Checks the descriptor against its profile, and every cell of every table against its type, constraints and keys.
const path = require('path')
const {Package} = require(path.join(path.resolve(process.argv[2]), 'datapackage'))

async function main() {
  const p = await Package.load(path.join(process.argv[3], 'datapackage.json'), {basePath: process.argv[3], strict: false})
  const problems = p.errors.map(String)
  const rows = {}
  for (const resource of p.resources) {
    if (!resource.tabular) problems.push(resource.name + ' is not tabular')
    try {
      rows[resource.name] = (await resource.read({relations: true})).length
      await resource.checkRelations()
    } catch (e) {
      problems.push(resource.name + ': ' + [e, ...(e.errors || [])].join('; '))
    }
  }
  console.log(JSON.stringify({profile: p.profile.name, valid: p.valid, problems, rows}))
}
main()
