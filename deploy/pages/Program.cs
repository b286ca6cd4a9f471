using Cardassay.Pages;

if (args is not [var folder])
{
    Console.Error.WriteLine("usage: cardassay-pages FOLDER   (writes man pages, shell completion and configuration files of both programs)");
    return 2;
}

foreach (DescribedProgram program in DescribedProgram.All)
{
    foreach ((string file, string text) in program.Files())
    {
        string path = Path.Combine(folder, file);
        Directory.CreateDirectory(Path.GetDirectoryName(path)!);
        File.WriteAllText(path, text);
    }
}

return 0;
