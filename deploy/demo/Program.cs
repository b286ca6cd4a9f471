using System.CommandLine;
using Cardassay.Demo;

var data = new Option<DirectoryInfo>("--data")
{
    Description = "Folder for the invented boards' agent folders and claims.csv. Given again, it is left as it is.",
    Required = true,
};
var root = new RootCommand(
    "Writes the invented Tarrow data set: 4 boards, 24 cards, 3 nights. Example: cardassay-demo --data /tmp/tarrow") { data };
root.SetAction(parsed => Demonstration.Write(parsed.GetRequiredValue(data).FullName, Console.Out, Console.Error));
ParseResult line = root.Parse(args);
int exit = line.Invoke();
return line.Errors.Count > 0 ? 2 : exit;
