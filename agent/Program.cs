System.Console.WriteLine("cardassay-agent");
